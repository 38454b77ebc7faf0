//! The seat key: four words with which a student comes back to their seat from any computer.

use std::fmt;

/// How many words make a key.
const WORDS_IN_A_KEY: usize = 4;

/// The words keys are made of: short ones for things that can be seen or touched, chosen for this server, one a
/// line, sorted. No slip of one letter makes one of them another, no two sound the same, and four of them are one of
/// 2^44 keys and more.
static WORD_LIST: &str = include_str!("seat_words.txt");

/// Words that no key is made of any more. Keys given out with them are still good.
static WORDS_BEFORE: &str = include_str!("seat_words_before.txt");
/// The longest of them.
const LONGEST_WORD: usize = 7;
/// Four words and what may stand between them; more is not looked at.
const LONGEST_TYPED: usize = 200;

/// How many words there are to draw from.
pub const WORD_COUNT: u32 = 2259;

/// Every word that a key may have: those that are drawn, then those that were.
fn known_words() -> impl Iterator<Item = &'static str> + Clone {
    WORD_LIST.lines().chain(WORDS_BEFORE.lines())
}

/// The word of that number, counted from 0; the last one past the end.
fn word(number: u32) -> &'static str {
    let mut words = WORD_LIST.lines();
    let last = words.clone().next_back().unwrap_or_default();
    words.nth(number as usize).unwrap_or(last)
}

fn listed(text: &str) -> Option<&'static str> {
    known_words().find(|word| *word == text)
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
    /// use shimlight::domain::people::seat_key::SeatKey;
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
    for word in known_words().filter(|word| letters.starts_with(word)) {
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
    known_words().find(|word| one_slip_away(&typed, &word.chars().collect::<Vec<_>>()))
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

    /// Words that sound alike, in English as one speaker or another says it.
    const SOUND_ALIKE: &str = "aisle isle, ant aunt, ball bawl, bare bear, base bass, beach beech, bean been, beet beat, \
         bell belle, berry bury, blue blew, board bored, boulder bolder, bow bough, brake break, bread bred, bridle bridal, \
         brooch broach, buoy boy, cellar seller, cereal serial, chord cord, colonel kernel, coral choral, creek creak, \
         currant current, cygnet signet, cymbal symbol, deer dear, dessert desert, dew due, doe dough, dye die, fare fair, \
         feet feat, fir fur, flare flair, flea flee, flour flower, foul fowl, freeze frieze, gate gait, grate great, \
         hail hale, hair hare, hall haul, hangar hanger, hay hey, heart hart, heel heal, herd heard, hole whole, \
         horse hoarse, hour our, idle idol, jeans genes, key quay, knight night, knot not, lead led, leek leak, links lynx, \
         loan lone, made maid, mail male, main mane, maize maze, mantel mantle, marshal martial, mask masque, meat meet, \
         medal meddle, metal mettle, mind mined, miner minor, mist missed, moose mousse, muscle mussel, oar ore, one won, \
         pail pale, pain pane, pair pear, palate palette, pause paws, peace piece, peak peek, peal peel, pearl purl, \
         pedal peddle, peer pier, place plaice, plain plane, plum plumb, pole poll, pour pore, prince prints, rain reign, \
         read reed, reel real, ring wring, road rode, roe row, role roll, root route, rose rows, rye wry, sail sale, \
         sauce source, saw sore, scene seen, scent sent, sea see, seam seem, shoe shoo, sleigh slay, soar sore, sole soul, \
         son sun, stair stare, stake steak, steal steel, straight strait, suite sweet, tail tale, tea tee, team teem, \
         tear tier, thyme time, tide tied, toad towed, toe tow, throne thrown, troop troupe, tuba tuber, urn earn, \
         vain vein, vale veil, waist waste, wait weight, wave waive, way weigh, weather whether, week weak, weir we're, \
         whale wail, which witch, wood would, wrap rap, yew ewe, yoke yolk";

    fn words() -> Vec<&'static str> {
        WORD_LIST.lines().collect()
    }

    #[test]
    fn four_of_the_words_are_44_bits_or_more_and_the_list_is_of_a_size_of_its_own() {
        assert_eq!(words().len(), WORD_COUNT as usize);
        assert!(!WORD_COUNT.is_power_of_two(), "{WORD_COUNT}");
        let bits = WORDS_IN_A_KEY as f64 * f64::from(WORD_COUNT).log2();
        assert!(bits >= 44.0, "{bits}");
    }

    #[test]
    fn the_words_are_sorted_lower_case_and_of_three_to_seven_letters() {
        assert!(words().windows(2).all(|pair| pair[0] < pair[1]), "sorted, none twice");
        let odd: Vec<_> = words()
            .into_iter()
            .filter(|word| !(3..=7).contains(&word.len()) || !word.bytes().all(|b| b.is_ascii_lowercase()))
            .collect();
        assert!(odd.is_empty(), "{odd:?}");
    }

    #[test]
    fn no_slip_makes_one_word_another() {
        let spelt: Vec<Vec<char>> = words().into_iter().map(letters).collect();
        for (place, word) in spelt.iter().enumerate() {
            let near: Vec<String> = spelt[place + 1..]
                .iter()
                // one slip leaves the first letter or the last as it is: the others need no closer look
                .filter(|other| other[0] == word[0] || other.last() == word.last())
                .filter(|other| other.len().abs_diff(word.len()) <= 1 && one_slip_away(word, other))
                .map(|other| other.iter().collect())
                .collect();
            assert!(near.is_empty(), "{}: {near:?}", word.iter().collect::<String>());
        }
    }

    #[test]
    fn no_two_words_sound_the_same() {
        let words = words();
        for pair in SOUND_ALIKE.split(", ") {
            let both = pair.split(' ').filter(|word| words.contains(word)).count();
            assert!(both < 2, "{pair}");
        }
    }

    #[test]
    fn a_key_given_out_with_words_of_the_earlier_list_is_still_read() {
        let earlier = SeatKey::parse("Gentle horizon READY-library").expect("a key of the earlier list");
        assert_eq!(earlier.plain(), "gentle horizon ready library");
        let words = words();
        assert!(!words.contains(&"ready") && WORDS_BEFORE.lines().any(|word| word == "ready"));
        assert!(WORDS_BEFORE.lines().all(|word| !words.contains(&word)), "a word is drawn or it is not");
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
