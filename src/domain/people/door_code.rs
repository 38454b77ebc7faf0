//! Door codes: the short code on the lab door.

/// Consonants that can be told apart when called across a lab; without K, P, S and T few of the
/// syllables are rude words (our own judgement).
const CONSONANTS: &[u8] = b"BDFGLMNRVZ";
/// No I or O: they look like 1 and 0.
const VOWELS: &[u8] = b"AEU";
/// No 0 or 1.
const DIGITS: &[u8] = b"23456789";

/// A code to propose: consonant, vowel, consonant, vowel, two digits, such as `MALU47`. `below`
/// gives a whole number below its argument by chance.
pub fn proposed(mut below: impl FnMut(u32) -> u32) -> String {
    [CONSONANTS, VOWELS, CONSONANTS, VOWELS, DIGITS, DIGITS]
        .into_iter()
        .map(|letters| {
            let at = below(u32::try_from(letters.len()).unwrap_or(1)) as usize;
            char::from(letters[at.min(letters.len() - 1)])
        })
        .collect()
}

/// A typed code in its one form: capitals, no spaces. Four to twelve letters A to Z and digits.
///
/// # Errors
/// In words, when it is not such a code.
pub fn read(text: &str) -> Result<String, &'static str> {
    let code: String = text.split_whitespace().collect::<String>().to_ascii_uppercase();
    let plain = code.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit());
    if plain && (4..=12).contains(&code.len()) {
        Ok(code)
    } else {
        Err("must have from 4 to 12 letters A to Z and digits, such as MALU47")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Chance;

    #[test]
    fn proposals_have_nothing_that_could_be_misread() {
        let chance = Chance::seeded("a brass plate");
        for _ in 0..500 {
            let code = proposed(|bound| chance.below(bound));
            assert_eq!(code.len(), 6, "{code}");
            assert!(!code.contains(['0', 'O', '1', 'I']), "{code}");
            assert_eq!(read(&code), Ok(code.clone()));
        }
    }

    #[test]
    fn a_typed_code_is_put_into_capitals() {
        assert_eq!(read(" quay 7 "), Ok("QUAY7".to_owned()));
        for bad in ["", "abc", "a-b-c-d", "ÄÖÜß", "ABCDEFGHIJKLM"] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }
}
