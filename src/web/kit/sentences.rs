//! Notes put together into sentences.

/// Notes as sentences: `Under ½ s cannot …. * Past the end ….`
pub fn sentences(notes: &[&str]) -> String {
    let sentence = |note: &&str| format!("{}{}.", note[..1].to_uppercase(), &note[1..]);
    notes.iter().map(sentence).collect::<Vec<_>>().join(" ")
}
