//! How names are compared: letters and digits only, in one case. Knows nothing of what the names stand for.

/// What two spellings of one name have in common: `6SN7-GTB`, `6sn7 gtb` and `6SN7GTB` are one.
pub(super) fn key(name: &str) -> String {
    name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect()
}

/// The known word nearest to what was written, where one is near enough to be meant.
pub(super) fn nearest<'a>(written: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = written.to_lowercase();
    known
        .into_iter()
        .map(|word| (strsim::damerau_levenshtein(&lower, &word.to_lowercase()), word))
        .filter(|(distance, word)| *distance <= 1 + word.chars().count().min(written.chars().count()) / 4)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, word)| word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spaces_hyphens_and_case_do_not_matter() {
        for name in ["6SN7GTB", "6sn7gtb", "6SN7-GTB", " 6SN7 GTB "] {
            assert_eq!(key(name), "6SN7GTB");
        }
    }

    #[test]
    fn a_slip_finds_the_word_and_another_word_finds_none() {
        assert_eq!(nearest("plate-volts", ["plate-voltage", "screen-voltage"]), Some("plate-voltage"));
        assert_eq!(nearest("bse", ["base", "heating"]), Some("base"));
        assert_eq!(nearest("colour", ["base", "heating"]), None);
    }
}
