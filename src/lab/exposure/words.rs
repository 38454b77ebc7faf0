//! A sheet in words, as several pages and the messages about it say it.

use crate::domain::{
    exposure::{
        Exposure,
        verdict::{Fault, ResultSource, Verdict},
    },
    measure::decimal,
};

/// How a sheet came out, in words.
pub fn result_words(exposure: &Exposure) -> String {
    let Some(judgement) = exposure.judgement else { return "not looked at yet".to_owned() };
    let mut words = match (judgement.verdict, judgement.result) {
        (Verdict::StopsGiven, Some((milli, source))) => {
            let how = if source == ResultSource::Scan { "from a scan" } else { "by eye" };
            let stops = decimal::written(milli.abs(), 3);
            match milli {
                0 => format!("right, {how}"),
                pale if pale > 0 => format!("{stops} stops too pale, {how}"),
                _ => format!("{stops} stops too dark, {how}"),
            }
        }
        (verdict, _) => verdict.as_str().to_owned(),
    };
    if let Some(fault) = judgement.fault {
        words.push_str(", ");
        words.push_str(if fault == Fault::Other { "spoiled" } else { fault.as_str() });
    }
    words
}
