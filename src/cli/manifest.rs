//! The file beside a backup that says what the backup was when it was made: `NAME.tally`.
//!
//! A line each: when it was made, its length and SHA-256, and how many rows each table has.

use std::{
    collections::BTreeMap,
    fs::{self, File},
    io::{self, Read},
    path::{Path, PathBuf},
};

use anyhow::{Context, bail};
use sha2::{Digest, Sha256};

use super::beside;
use crate::{domain::instant::Instant, store::engine::own_files};

/// Where the tally of a backup stands.
pub fn beside(backup: &Path) -> PathBuf {
    beside::beside(backup, "tally")
}

/// Writes the tally of `backup`, which still stands at `part`.
///
/// # Errors
/// When the one cannot be read or the other not written.
pub fn write(backup: &Path, part: &Path, made: Instant, rows: &BTreeMap<String, i64>) -> anyhow::Result<()> {
    let (bytes, digest) = measure(part)?;
    let made = made.local(&jiff::tz::TimeZone::UTC).strftime("%Y-%m-%dT%H:%M:%SZ");
    let mut words = format!("made {made}\nbytes {bytes}\nsha256 {digest}\n");
    for (table, count) in rows {
        words += &format!("rows {table} {count}\n");
    }
    let to = beside(backup);
    own_files::write(&to, words.as_bytes()).with_context(|| format!("{} cannot be written", to.display()))?;
    File::open(&to)?.sync_all()?;
    Ok(())
}

/// What a tally says of its backup.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compared {
    /// It is the file that was written, to the last bit.
    Same,
    /// There is no tally beside it.
    None,
}

/// Compares a backup with its tally, when it has one.
///
/// # Errors
/// When it is not the file that was written, or one of both cannot be read.
pub fn compare(backup: &Path) -> anyhow::Result<Compared> {
    let tally = beside(backup);
    let words = match fs::read_to_string(&tally) {
        Ok(words) => words,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Compared::None),
        Err(error) => return Err(error).with_context(|| format!("{} cannot be read", tally.display())),
    };
    let told = |what: &str| words.lines().find_map(|line| line.strip_prefix(what)).unwrap_or_default();
    let (bytes, digest) = measure(backup)?;
    if told("bytes ") != bytes.to_string() || told("sha256 ") != digest {
        bail!(
            "{} is not what it was when it was made: its length or checksum is not the one in {}",
            backup.display(),
            tally.display()
        );
    }
    Ok(Compared::Same)
}

fn measure(file: &Path) -> anyhow::Result<(u64, String)> {
    let read = || format!("{} cannot be read", file.display());
    let mut open = File::open(file).with_context(read)?;
    let (mut hasher, mut bytes, mut part) = (Sha256::new(), 0, vec![0; 64 * 1024]);
    loop {
        let count = open.read(&mut part).with_context(read)?;
        if count == 0 {
            break;
        }
        hasher.update(&part[..count]);
        bytes += count as u64;
    }
    Ok((bytes, hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_bit_of_a_backup_that_changed_is_found() {
        let folder = tempfile::tempdir().expect("a folder");
        let backup = folder.path().join("evening.db");
        fs::write(&backup, vec![7; 3000]).expect("written");
        assert_eq!(compare(&backup).expect("read"), Compared::None);
        let made = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        write(&backup, &backup, made, &BTreeMap::from([("camera".to_owned(), 3)])).expect("written");
        assert_eq!(compare(&backup).expect("read"), Compared::Same);
        let words = fs::read_to_string(beside(&backup)).expect("there");
        assert!(words.starts_with("made 2026-03-20T18:00:00Z\nbytes 3000\nsha256 "), "{words}");
        assert!(words.ends_with("rows camera 3\n"), "{words}");
        for bit in [0, 7 * 8 + 3, 2999 * 8 + 7] {
            let mut damaged = vec![7; 3000];
            damaged[bit / 8] ^= 1 << (bit % 8);
            fs::write(&backup, damaged).expect("written");
            assert!(compare(&backup).is_err(), "bit {bit}");
        }
        fs::write(&backup, vec![7; 2999]).expect("written");
        assert!(compare(&backup).is_err(), "cut short");
    }
}
