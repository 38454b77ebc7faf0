//! The seat key: four words with which a student comes back to their seat from any computer.

use std::fmt;

/// How many words make a key.
const WORDS_IN_A_KEY: usize = 4;

/// The words keys are made of: 2,048 of our own choosing, one a line, sorted, so that four of them
/// are one of 2^44 keys.
static WORD_LIST: &str = include_str!("seat_words.txt");

/// The longest of them.
const LONGEST_WORD: usize = 7;
/// Four words and what may stand between them; more is not looked at.
const LONGEST_TYPED: usize = 200;

/// How many words there are to draw from.
pub const WORD_COUNT: u32 = 2048;

/// The word of that number, counted from 0; the last one past the end.
fn word(number: u32) -> &'static str {
    let mut words = WORD_LIST.lines();
    let last = words.clone().next_back().unwrap_or_default();
    words.nth(number as usize).unwrap_or(last)
}

fn listed(text: &str) -> Option<&'static str> {
    WORD_LIST.lines().find(|word| *word == text)
}

/// Four words. Kept by the server only as a hash of [`SeatKey::plain`].
#[derive(Clone, PartialEq, Eq)]
pub struct SeatKey([&'static str; WORDS_IN_A_KEY]);

/// Why what was typed is no seat key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotASeatKey {
    /// Not four words.
    #[error("a seat key is four words; this has {0}")]
    Count(usize),
    /// A word that no key has; with the nearest one that keys have, if there is one.
    #[error("{}", unknown_word(.typed, .nearest.as_deref()))]
    Unknown {
        /// The word as typed.
        typed: String,
        /// A word one letter away.
        nearest: Option<&'static str>,
    },
    /// More than four words can be.
    #[error("a seat key is four short words; this is too long")]
    TooLong,
    /// Run together so that it can be read in two ways.
    #[error("put a space between the four words")]
    RunTogether,
}

fn unknown_word(typed: &str, nearest: Option<&str>) -> String {
    match nearest {
        Some(nearest) => format!("no seat key has the word “{typed}”; was it “{nearest}”?"),
        None => format!("no seat key has the word “{typed}”; look at your note again"),
    }
}

impl SeatKey {
    /// Draws a key; `below(n)` gives a whole number from 0 up to, not including, `n`.
    pub fn draw(mut below: impl FnMut(u32) -> u32) -> Self {
        Self(std::array::from_fn(|_| word(below(WORD_COUNT))))
    }

    /// Reads what somebody typed. The one place where case, spaces, hyphens and points are forgiven,
    /// and spaces left out where only one reading is possible.
    ///
    /// ```
    /// use shimlight::domain::seat_key::SeatKey;
    /// let key = SeatKey::parse(" Mango-lamp RIVER, otter ").expect("four of our words");
    /// assert_eq!(key.plain(), "mango lamp river otter");
    /// assert!(SeatKey::parse("mango lamp river").is_err());
    /// ```
    ///
    /// # Errors
    /// When it is not four words, or one of them is in no key.
    pub fn parse(typed: &str) -> Result<Self, NotASeatKey> {
        if typed.len() > LONGEST_TYPED {
            return Err(NotASeatKey::TooLong);
        }
        let lower = typed.to_lowercase();
        let chunks: Vec<&str> = lower.split(|c: char| !c.is_alphabetic()).filter(|chunk| !chunk.is_empty()).collect();
        if chunks.len() < WORDS_IN_A_KEY {
            let mut readings = Vec::new();
            read_run_together(&chunks.concat(), &mut Vec::new(), &mut readings);
            return match readings.as_slice() {
                [only] => Ok(Self(*only)),
                [] => Err(NotASeatKey::Count(chunks.len())),
                _ => Err(NotASeatKey::RunTogether),
            };
        }
        let words: [&str; WORDS_IN_A_KEY] =
            chunks.try_into().map_err(|chunks: Vec<&str>| NotASeatKey::Count(chunks.len()))?;
        let mut key = [""; WORDS_IN_A_KEY];
        for (place, typed) in key.iter_mut().zip(words) {
            *place = listed(typed)
                .ok_or_else(|| NotASeatKey::Unknown { typed: typed.to_owned(), nearest: nearest_word(typed) })?;
        }
        Ok(Self(key))
    }

    /// The one form that is hashed and compared: lower case, single spaces.
    pub fn plain(&self) -> String {
        self.0.join(" ")
    }
}

/// Every way in which the letters are four words of the list.
fn read_run_together(
    letters: &str,
    so_far: &mut Vec<&'static str>,
    readings: &mut Vec<[&'static str; WORDS_IN_A_KEY]>,
) {
    // what is left cannot be that few words
    if letters.len() > (WORDS_IN_A_KEY - so_far.len()) * LONGEST_WORD {
        return;
    }
    if so_far.len() == WORDS_IN_A_KEY {
        if letters.is_empty()
            && let Ok(reading) = <[&'static str; WORDS_IN_A_KEY]>::try_from(so_far.as_slice())
        {
            readings.push(reading);
        }
        return;
    }
    for word in WORD_LIST.lines().filter(|word| letters.starts_with(word)) {
        so_far.push(word);
        read_run_together(&letters[word.len()..], so_far, readings);
        so_far.pop();
    }
}

/// A listed word that is one slip of the finger away: a letter too many, missing, wrong, or two
/// neighbours swapped.
fn nearest_word(typed: &str) -> Option<&'static str> {
    let typed: Vec<char> = typed.chars().take(LONGEST_WORD + 2).collect();
    if typed.len() > LONGEST_WORD + 1 {
        return None;
    }
    WORD_LIST.lines().find(|word| one_slip_away(&typed, &word.chars().collect::<Vec<_>>()))
}

fn one_slip_away(typed: &[char], word: &[char]) -> bool {
    let same = typed.iter().zip(word).take_while(|(a, b)| a == b).count();
    let (a, b) = (&typed[same..], &word[same..]);
    let rest = |letters: &[char], skip: usize| letters.get(skip..).map(<[char]>::to_vec);
    let swapped = a.len() >= 2 && b.len() >= 2 && a[0] == b[1] && a[1] == b[0] && a[2..] == b[2..];
    let beyond = rest(a, 1).is_some() || rest(b, 1).is_some();
    beyond
        && (swapped
            || rest(a, 1).as_deref() == Some(b)
            || Some(a) == rest(b, 1).as_deref()
            || rest(a, 1).is_some_and(|a| Some(a) == rest(b, 1)))
}

/// For showing it once to its student.
impl fmt::Display for SeatKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.plain())
    }
}

/// A key never stands in a log.
impl fmt::Debug for SeatKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SeatKey(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn letters(text: &str) -> Vec<char> {
        text.chars().collect()
    }

    #[test]
    fn the_list_has_exactly_2048_sorted_words_of_three_to_seven_plain_letters() {
        let words: Vec<&str> = WORD_LIST.lines().collect();
        assert_eq!(words.len(), WORD_COUNT as usize);
        assert!(words.windows(2).all(|pair| pair[0] < pair[1]), "sorted, none twice");
        let odd: Vec<_> = words
            .iter()
            .filter(|word| !(3..=7).contains(&word.len()) || !word.bytes().all(|b| b.is_ascii_lowercase()))
            .collect();
        assert!(odd.is_empty(), "{odd:?}");
    }

    #[test]
    fn every_word_can_be_drawn() {
        assert_eq!(word(0), WORD_LIST.lines().next().expect("a first word"));
        assert_eq!(word(WORD_COUNT - 1), WORD_LIST.lines().last().expect("a last word"));
        let mut next = 0..;
        let key = SeatKey::draw(|bound| next.next().expect("more") % bound);
        assert_eq!(SeatKey::parse(&key.plain()), Ok(key));
    }

    #[test]
    fn case_spaces_hyphens_and_commas_are_forgiven() {
        let plain = SeatKey::parse("mango lamp river otter").expect("four words");
        for typed in
            ["MANGO LAMP RIVER OTTER", " mango-lamp-river-otter\n", "mango,lamp, river.  otter", "mangolampriverotter"]
        {
            assert_eq!(SeatKey::parse(typed), Ok(plain.clone()), "{typed}");
        }
    }

    #[test]
    fn a_slip_is_named_with_the_word_that_was_meant() {
        let slip = SeatKey::parse("mango lamp rvier otter").expect_err("a slip");
        assert_eq!(slip.to_string(), "no seat key has the word “rvier”; was it “river”?");
        let far = SeatKey::parse("mango lamp xylophones otter").expect_err("not ours");
        assert_eq!(far.to_string(), "no seat key has the word “xylophones”; look at your note again");
        assert_eq!(
            SeatKey::parse("mango lamp xyzzy").expect_err("three").to_string(),
            "a seat key is four words; this has 3"
        );
        assert_eq!(SeatKey::parse(""), Err(NotASeatKey::Count(0)));
        assert_eq!(SeatKey::parse("one mango lamp river otter"), Err(NotASeatKey::Count(5)));
    }

    #[test]
    fn what_is_longer_than_any_key_is_not_looked_at() {
        assert_eq!(SeatKey::parse(&"a".repeat(201)), Err(NotASeatKey::TooLong));
        assert_eq!(SeatKey::parse(&"mango".repeat(30)), Err(NotASeatKey::Count(1)));
        assert_eq!(nearest_word(&"r".repeat(1_000_000)), None);
    }

    #[test]
    fn one_slip_is_a_letter_more_less_other_or_swapped() {
        for typed in ["rivver", "rver", "rivet", "irver", "river "] {
            assert!(one_slip_away(&letters(typed), &letters("river")), "{typed}");
        }
        for typed in ["river", "rvre", "otter", ""] {
            assert!(!one_slip_away(&letters(typed), &letters("river")), "{typed}");
        }
    }

    #[test]
    fn a_key_does_not_show_in_a_debug_line() {
        let key = SeatKey::parse("mango lamp river otter").expect("four words");
        assert_eq!(format!("{key:?}"), "SeatKey(…)");
    }
}
