//! The nearest right spelling, offered only when it is close.

/// How many candidates are looked at: a design of thousands of parts must not be searched for ever.
const CANDIDATE_LIMIT: usize = 2_000;

/// Words of the trade that mean what the language calls otherwise.
const SAME: [(&str, &str); 22] = [
    ("valve", "tube"),
    ("pot", "potentiometer"),
    ("cap", "capacitor"),
    ("inductor", "choke"),
    ("coil", "choke"),
    ("connect", "wire"),
    ("net", "wire"),
    ("battery", "bench-supply"),
    ("transistor", "bjt"),
    ("opt", "output-transformer"),
    ("filament", "heater"),
    ("secondary", "winding"),
    ("anode", "plate"),
    ("wattage", "power"),
    ("watts", "power"),
    ("rating", "voltage"),
    ("volts", "voltage"),
    ("amps", "current"),
    ("positive", "plus"),
    ("negative", "minus"),
    ("center", "centre"),
    ("reason", "because"),
];

/// The candidate nearest to what was written, where one is near enough to be what was meant.
pub(super) fn nearest<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = written.to_lowercase();
    let candidates: Vec<&str> = candidates.into_iter().take(CANDIDATE_LIMIT).collect();
    let same = SAME.iter().find(|(word, same)| *word == lower && candidates.contains(same)).map(|(_, same)| *same);
    if let Some(same) = same {
        return candidates.into_iter().find(|candidate| *candidate == same);
    }
    let length = lower.chars().count();
    // One slip in a short word, two in a longer one, three in a long one.
    let allowed = match length {
        0..=1 => 0,
        2..=4 => 1,
        5..=9 => 2,
        _ => 3,
    };
    candidates
        .into_iter()
        .filter(|candidate| candidate.chars().count().abs_diff(length) <= allowed)
        .filter_map(|candidate| {
            let distance = strsim::damerau_levenshtein(&lower, &candidate.to_lowercase());
            (distance <= allowed).then_some((distance, candidate))
        })
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// As [`nearest`], but never a name that differs in its number only: `R2` is not a misspelt `R1`.
pub(super) fn nearest_name<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let without_digits =
        |word: &str| -> String { word.chars().filter(|c| !c.is_ascii_digit()).flat_map(char::to_lowercase).collect() };
    let letters = without_digits(written);
    nearest(
        written,
        candidates.into_iter().filter(|candidate| {
            without_digits(candidate) != letters || candidate.to_lowercase() == written.to_lowercase()
        }),
    )
}

/// As [`nearest`] for types of devices, whose every sign counts: one slip, or an `O` for a `0`.
pub(super) fn nearest_type<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let plain = |word: &str| word.to_lowercase().replace('o', "0").replace(['i', 'l'], "1").replace(['-', ' '], "");
    let written = plain(written);
    candidates
        .into_iter()
        .take(CANDIDATE_LIMIT)
        .map(|candidate| {
            let distance = strsim::damerau_levenshtein(&written, &plain(candidate));
            (distance, candidate)
        })
        .filter(|(distance, _)| *distance <= 1)
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
    fn a_word_of_the_trade_leads_to_that_of_the_language() {
        assert_eq!(nearest("valve", ["tube", "wire"]), Some("tube"));
        assert_eq!(nearest("wattage", ["power", "voltage"]), Some("power"));
        assert_eq!(nearest("valve", ["wire"]), None);
    }

    #[test]
    fn another_number_is_another_part() {
        assert_eq!(nearest_name("R2", ["R1", "R3"]), None);
        assert_eq!(nearest_name("r1", ["R1"]), Some("R1"));
        assert_eq!(nearest_name("lft", ["left"]), Some("left"));
    }

    #[test]
    fn a_type_is_mended_only_when_one_sign_is_wrong() {
        assert_eq!(nearest_type("1N4OO7", ["1N4007"]), Some("1N4007"));
        assert_eq!(nearest_type("ez-80", ["EZ80"]), Some("EZ80"));
        assert_eq!(nearest_type("12AU8", ["12AU7"]), Some("12AU7"));
        assert_eq!(nearest_type("12AY9", ["12AU7"]), None);
    }

    #[test]
    fn words_are_listed_as_one_says_them() {
        assert_eq!(any_of(&["slow", "fast"]), "`slow` or `fast`");
        assert_eq!(any_of(&["a", "b", "c"]), "`a`, `b` or `c`");
    }
}
