//! Small pieces of wording: lists and the nearest right spelling.

/// `a`, `a and b`, `a, b and c`.
pub(super) fn listed<'a>(words: impl Iterator<Item = &'a str>, joiner: &str) -> String {
    let words: Vec<&str> = words.collect();
    match words.as_slice() {
        [] => "nothing".to_owned(),
        [only] => (*only).to_owned(),
        [most @ .., last] => format!("{} {joiner} {last}", most.join(", ")),
    }
}

/// The known name nearest to what was written, where one is near enough to be meant.
pub(super) fn nearest<'a>(written: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let mut best = None;
    let mut likeness = 0.8;
    for name in known {
        let alike = strsim::jaro_winkler(written, name);
        if alike > likeness {
            likeness = alike;
            best = Some(name);
        }
    }
    best
}
