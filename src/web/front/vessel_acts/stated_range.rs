//! Silver with its range, as a form says it.

use crate::{domain::book::Silver, web::request::posted::Reader};

/// Silver with its range, of the fields `silver`, `low` and `high`; all three are asked for.
pub(in crate::web::front) fn stated_range(r: &mut Reader<'_>, most: i64) -> Option<Silver> {
    let best = r.decimal("silver", 6, 0..=most);
    let mut bound = |field: &str| {
        if r.raw(field).is_empty() {
            r.wrong(field, "must be given: how sure the figure is belongs to it");
            return None;
        }
        r.decimal(field, 6, 0..=most)
    };
    let (low, high) = (bound("low"), bound("high"));
    let silver = Silver { best_ug: best?, low_ug: low?, high_ug: high? };
    if silver.low_ug > silver.best_ug {
        r.wrong("low", "must not be more than the best figure");
    }
    if silver.high_ug < silver.best_ug {
        r.wrong("high", "must not be less than the best figure");
    }
    Some(silver)
}
