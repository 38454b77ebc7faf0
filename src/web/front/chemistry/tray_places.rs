//! The trays of all tray lines, to choose one from.

use crate::{domain::baths::batch::Slot, store::baths::tray_lines::TrayLine};

/// The places there are: `(value, words)`.
pub(super) fn places(lines: &[TrayLine], takes: impl Fn(Slot) -> bool) -> Vec<(String, String)> {
    lines
        .iter()
        .flat_map(|line| Slot::ALL.into_iter().map(move |slot| (line, slot)))
        .filter(|(_, slot)| takes(*slot))
        .map(|(line, slot)| (format!("{} {}", line.id, slot.as_str()), format!("{}: {}", line.name, slot.as_str())))
        .collect()
}
