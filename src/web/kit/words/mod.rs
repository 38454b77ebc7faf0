//! The glossary: the trade's words and our own, in plain short sentences.

mod drawings;
mod list;

pub use self::list::GROUPS;

/// One word.
pub struct Word {
    /// As it is listed.
    pub word: &'static str,
    /// Coined here, rather than found in the trade.
    pub ours: bool,
    /// In a sentence or two.
    pub meaning: &'static str,
}

impl Word {
    /// As it is written in a sentence: without an abbreviation in parentheses.
    fn plain(&self) -> &'static str {
        self.word.split(" (").next().unwrap_or(self.word)
    }

    /// A drawing, where it says more than the words do.
    pub fn drawing(&self) -> Option<String> {
        drawings::of(&self.anchor())
    }

    /// The end of its address: `/words#carry-over`.
    pub fn anchor(&self) -> String {
        self.plain().to_lowercase().replace(|c: char| !c.is_ascii_alphanumeric(), "-")
    }
}

/// Where the word that a name is made of is explained: `Hole diameter to make` leads to
/// `/words#hole-diameter`. Of several the longest, since it says more; `None` when there is none.
pub fn explained(name: &str) -> Option<String> {
    let name = name.to_lowercase();
    let whole = |word: &Word| {
        let plain = word.plain().to_lowercase();
        name.match_indices(&plain).any(|(from, found)| {
            let letter = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
            !letter(name[..from].chars().next_back()) && !letter(name[from + found.len()..].chars().next())
        })
    };
    let words = GROUPS.iter().flat_map(|group| group.words).filter(|word| whole(word));
    words.max_by_key(|word| word.plain().len()).map(|word| format!("/words#{}", word.anchor()))
}

/// Where a word itself is explained: for a label that is nothing but the word.
pub fn explained_word(label: &str) -> Option<String> {
    let is_it = |word: &&Word| word.plain().eq_ignore_ascii_case(label) || word.word.eq_ignore_ascii_case(label);
    GROUPS.iter().flat_map(|group| group.words).find(is_it).map(|word| format!("/words#{}", word.anchor()))
}

/// Words that belong together.
pub struct Group {
    /// What they are about.
    pub name: &'static str,
    /// The words.
    pub words: &'static [Word],
}

const fn trade(word: &'static str, meaning: &'static str) -> Word {
    Word { word, ours: false, meaning }
}

const fn ours(word: &'static str, meaning: &'static str) -> Word {
    Word { word, ours: true, meaning }
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn a_name_leads_to_the_longest_word_in_it() {
        assert_eq!(explained("Hole diameter to make").as_deref(), Some("/words#hole-diameter"));
        assert_eq!(explained("f-number as measured").as_deref(), Some("/words#f-number"));
        assert_eq!(explained("Whole numbers"), None, "a word is whole");
        assert_eq!(explained_word("Exposure index").as_deref(), Some("/words#exposure-index"));
        assert_eq!(explained_word("Exposure index of the box"), None);
    }

    #[test]
    fn every_word_has_an_address_of_its_own() {
        let anchors: Vec<String> = GROUPS.iter().flat_map(|group| group.words).map(Word::anchor).collect();
        let distinct: HashSet<&String> = anchors.iter().collect();
        assert_eq!(distinct.len(), anchors.len(), "{anchors:?}");
        for expected in ["carry-over", "exposure-index", "exposure-value", "f-number", "seat-key", "silver-book"] {
            assert!(distinct.contains(&expected.to_owned()), "{expected}");
        }
    }
}
