//! The nearest right spelling, offered only when it is close.

/// How many candidates are looked at: a design of thousands of parts must not be searched for ever.
const CANDIDATE_LIMIT: usize = 2_000;

/// The candidate nearest to what was written, where one is near enough to be what was meant.
pub(super) fn nearest<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = written.to_lowercase();
    let length = lower.chars().count();
    // One slip in a short word, two in a longer one, three in a long one.
    let allowed = match length {
        0..=1 => 0,
        2..=5 => 1,
        6..=9 => 2,
        _ => 3,
    };
    candidates
        .into_iter()
        .take(CANDIDATE_LIMIT)
        .filter(|candidate| candidate.chars().count().abs_diff(length) <= allowed)
        .filter_map(|candidate| {
            let distance = strsim::damerau_levenshtein(&lower, &candidate.to_lowercase());
            (distance <= allowed).then_some((distance, candidate))
        })
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// `a`, `b` or `c`, each in the quotes of a message.
pub(super) fn any_of<S: AsRef<str>>(words: &[S]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{}`", word.as_ref())).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
    }
}

/// Help that offers the nearest spelling, or else lists what there is when that is short.
pub(super) fn did_you_mean<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str> + Clone) -> Option<String> {
    if let Some(near) = nearest(written, candidates.clone()) {
        return Some(format!("did you mean `{near}`?"));
    }
    let all: Vec<&str> = candidates.into_iter().take(13).collect();
    (1..=12).contains(&all.len()).then(|| format!("known here: {}", any_of(&all)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_mended_and_another_word_is_not() {
        let known = ["resistor", "capacitor", "choke"];
        assert_eq!(nearest("resitor", known), Some("resistor"));
        assert_eq!(nearest("Capacitor", known), Some("capacitor"));
        assert_eq!(nearest("chock", known), Some("choke"));
        assert_eq!(nearest("wire", known), None);
        assert_eq!(nearest("", known), None);
    }

    #[test]
    fn words_are_listed_as_one_says_them() {
        assert_eq!(any_of(&["slow", "fast"]), "`slow` or `fast`");
        assert_eq!(any_of(&["a", "b", "c"]), "`a`, `b` or `c`");
    }
}
