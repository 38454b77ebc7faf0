//! Whether a family name that somebody typed belongs to a name on the roster.

use unicode_normalization::{UnicodeNormalization, char::is_combining_mark};

/// Whether `typed` is the family name of `on_roster`. Case, accents, apostrophes and hyphens do not
/// matter. A roster name with a comma has its family name before it; otherwise any run of words at
/// the end counts (families have one name or several), or the first word (where the family name
/// comes first), or the first one or two signs of a name that is written without spaces.
///
/// ```
/// use shimlight::domain::people::family_name::is_family_name;
/// assert!(is_family_name("vask", "Teodora Vask"));
/// assert!(is_family_name("de la Peña", "Ana de la Pena"));
/// assert!(!is_family_name("Ana", "Peña, Ana"));
/// ```
pub fn is_family_name(typed: &str, on_roster: &str) -> bool {
    let typed = folded(typed);
    if typed.is_empty() {
        return false;
    }
    if let Some((family, _)) = on_roster.split_once([',', '，', '、']) {
        return folded(family) == typed;
    }
    let name = folded(on_roster);
    let (typed, name): (Vec<&str>, Vec<&str>) = (typed.split(' ').collect(), name.split(' ').collect());
    name.ends_with(&typed) || name[..1] == typed[..] || begins_unspaced(&typed, &name)
}

/// Names in Han, Hangul or Kana are often written without a space, the family name first.
fn begins_unspaced(typed: &[&str], name: &[&str]) -> bool {
    let ([typed], [name]) = (typed, name) else { return false };
    let unspaced = |c: char| matches!(c, '\u{3040}'..='\u{30ff}' | '\u{3400}'..='\u{9fff}' | '\u{ac00}'..='\u{d7af}');
    (1..=2).contains(&typed.chars().count()) && name.chars().all(unspaced) && name.starts_with(typed)
}

/// A name without what people write differently: case, accents, apostrophes, hyphens, points, spaces.
fn folded(name: &str) -> String {
    let mut plain = String::new();
    for c in name.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase) {
        match c {
            'ß' => plain.push_str("ss"),
            'æ' => plain.push_str("ae"),
            'œ' => plain.push_str("oe"),
            'þ' => plain.push_str("th"),
            'ø' => plain.push('o'),
            'ł' => plain.push('l'),
            'đ' | 'ð' => plain.push('d'),
            'ı' => plain.push('i'),
            'ς' => plain.push('σ'),
            '\'' | '’' | '‘' | 'ʼ' | 'ʻ' | '`' | '´' | '.' => {}
            c if c.is_alphanumeric() => plain.push(c),
            // lower-casing a dotted capital I leaves a mark behind
            c if is_combining_mark(c) => {}
            _ => plain.push(' '),
        }
    }
    plain.split_whitespace().collect::<Vec<_>>().join(" ").nfc().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_family_name_may_stand_last_first_or_before_a_comma() {
        for (typed, on_roster) in [
            ("Vask", "Teodora Vask"),
            ("VASK", "Teodora  Vask "),
            ("van der Meer", "Joost van der Meer"),
            ("Meer", "Joost van der Meer"),
            ("Vask", "Vask, Teodora"),
            ("Mori Vask", "Mori-Vask, Teodora"),
            ("Nguyen", "Nguyễn Văn An"),
            ("Sukarno", "Sukarno"),
            ("山田", "山田太郎"),
            ("김", "김민준"),
            ("Ivanova", "Anna Ivanova"),
        ] {
            assert!(is_family_name(typed, on_roster), "{typed} of {on_roster}");
        }
    }

    #[test]
    fn accents_case_apostrophes_and_hyphens_do_not_matter() {
        for (typed, on_roster) in [
            ("o'brien", "Maeve O’Brien"),
            ("OBrien", "Maeve O'Brien"),
            ("Peña", "Ana Pena"),
            ("pena", "Ana PEÑA"),
            ("Grosse", "Ute Große"),
            ("Soerensen", "Lars Soerensen"),
            ("Sorensen", "Lars Sørensen"),
            ("Lukasz", "Jan Łukasz"),
            ("yilmaz", "Deniz YILMAZ"),
            ("Işık", "Deniz IŞIK"),
            ("mori-vask", "Teodora Mori Vask"),
            ("Παπάς", "Νίκος ΠΑΠΑΣ"),
        ] {
            assert!(is_family_name(typed, on_roster), "{typed} of {on_roster}");
        }
    }

    #[test]
    fn anything_else_is_another_name() {
        for (typed, on_roster) in [
            ("", "Teodora Vask"),
            ("  ", "Teodora Vask"),
            ("Vas", "Teodora Vask"),
            ("Teodora", "Vask, Teodora"),
            ("van", "Joost van der Meer"),
            ("Joost van", "Joost van der Meer"),
            ("Vask", ""),
            ("Vask", ", Teodora"),
            ("-", "Teodora Vask"),
            ("太郎", "山田太郎"),
        ] {
            assert!(!is_family_name(typed, on_roster), "{typed} of {on_roster}");
        }
    }
}
