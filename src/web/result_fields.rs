//! The controls with which somebody says how a negative came out.

use askama::Template;

use crate::domain::{
    decimal,
    exposure::Judgement,
    instant::Instant,
    verdict::{Fault, ResultSource, Verdict},
};

use super::{
    form::{Control, Form},
    posted::{Posted, Reader},
};

/// Verdict, stops, how they were found, and what spoiled the sheet.
#[derive(Debug, Template)]
#[template(path = "parts/result_fields.html")]
pub struct ResultFields {
    verdict: Control,
    stops: Control,
    stops_by: Control,
    fault: Control,
}

impl askama::filters::HtmlSafe for ResultFields {}

impl ResultFields {
    /// The controls in sight, each verdict with what the negative looks like.
    pub fn of(form: &Form) -> Self {
        let verdicts: Vec<_> = Verdict::ALL
            .into_iter()
            .map(|verdict| (verdict.as_str().to_owned(), format!("{}: {}", verdict.as_str(), verdict.looks())))
            .collect();
        Self::with(form, form.radio("verdict", "How the negative looks", &verdicts))
    }

    /// The verdict as a list that opens and may stay empty.
    pub fn short(form: &Form) -> Self {
        let verdict = form.select("verdict", "How the negative looks", &verdict_options());
        Self::with(form, verdict.hint("leave it if nobody has looked at it in the light yet"))
    }

    fn with(form: &Form, verdict: Control) -> Self {
        let sources: Vec<_> =
            [(ResultSource::Eye, "by eye, beside a good negative"), (ResultSource::Scan, "from a scan")]
                .into_iter()
                .map(|(source, words)| (source.as_str().to_owned(), words.to_owned()))
                .collect();
        Self {
            verdict,
            stops: form
                .number("stops", "Stops it needed more")
                .hint("only for “stops given”: 1.5 when it was pale, -1.5 when it was dark")
                .unit("stops")
                .optional(),
            stops_by: form.select("stops_by", "How you know", &sources),
            fault: form
                .select("fault", "What spoiled it, if anything did", &fault_options())
                .hint("a spoiled sheet is kept, but teaches the forecast nothing"),
        }
    }
}

/// Verdicts as a list that opens, beginning with “not looked at yet”.
pub fn verdict_options() -> Vec<(String, String)> {
    let mut options = vec![(String::new(), "not looked at yet".to_owned())];
    options.extend(Verdict::ALL.into_iter().map(|verdict| (verdict.as_str().to_owned(), verdict.as_str().to_owned())));
    options
}

/// Faults as a list that opens, beginning with none.
pub fn fault_options() -> Vec<(String, String)> {
    let mut options = vec![(String::new(), "nothing".to_owned())];
    options.extend(Fault::ALL.into_iter().map(|fault| (fault.as_str().to_owned(), fault.looks().to_owned())));
    options
}

/// What a judgement looks like in the fields.
pub fn result_values(judgement: Option<Judgement>) -> [(&'static str, String); 4] {
    let verdict = judgement.map(|judgement| judgement.verdict);
    let result = judgement.and_then(|judgement| judgement.result);
    let typed = result.filter(|_| verdict == Some(Verdict::StopsGiven));
    [
        ("verdict", verdict.map_or_else(String::new, |verdict| verdict.as_str().to_owned())),
        ("stops", typed.map_or_else(String::new, |(milli, _)| decimal::written(milli, 3))),
        ("stops_by", result.map_or_else(String::new, |(_, source)| source.as_str().to_owned())),
        (
            "fault",
            judgement.and_then(|judgement| judgement.fault).map_or_else(String::new, |fault| fault.as_str().to_owned()),
        ),
    ]
}

/// The names of the fields that make up one judgement.
#[derive(Clone, Debug)]
pub struct ResultNames {
    verdict: String,
    stops: String,
    stops_by: String,
    fault: String,
}

impl ResultNames {
    /// As [`ResultFields`] calls them.
    pub fn plain() -> Self {
        Self::ending("")
    }

    /// The same with an ending, for rows: `verdict_3`.
    pub fn ending(ending: &str) -> Self {
        let name = |name: &str| format!("{name}{ending}");
        Self { verdict: name("verdict"), stops: name("stops"), stops_by: name("stops_by"), fault: name("fault") }
    }
}

/// Reads a judgement; `Some(None)` when nobody has looked at the sheet yet.
pub fn read_result(
    reader: &mut Reader<'_>,
    posted: &Posted,
    names: &ResultNames,
    judged_at: Instant,
) -> Option<Option<Judgement>> {
    let sent = |name: &str| posted.get(name).trim();
    let fault = match sent(&names.fault) {
        "" => Some(None),
        _ => reader.choice(&names.fault, Fault::from_word).map(Some),
    };
    let stops_sent = !sent(&names.stops).is_empty();
    if sent(&names.verdict).is_empty() {
        if stops_sent {
            reader.wrong(&names.verdict, "choose “stops given” when you give a number of stops");
            return None;
        }
        if fault?.is_some() {
            reader.wrong(&names.verdict, "say how it looks too: the nearest is good enough, it will not teach");
            return None;
        }
        return Some(None);
    }
    let verdict = reader.choice(&names.verdict, Verdict::from_word)?;
    let result = match verdict {
        Verdict::StopsGiven => {
            let milli = read_stops(reader, posted, &names.stops);
            let source = match sent(&names.stops_by) {
                "" => Some(ResultSource::Eye),
                _ => reader.choice(&names.stops_by, ResultSource::from_word),
            };
            Some((milli?, source?))
        }
        _ if stops_sent => {
            reader.wrong(&names.stops, "a number of stops goes with “stops given”: choose that, or leave this empty");
            return None;
        }
        verdict => verdict.stops_milli().map(|milli| (milli, ResultSource::Eye)),
    };
    Some(Some(Judgement { verdict, result, fault: fault?, judged_at }))
}

/// Thousandths of a stop, from -8 to 8.
fn read_stops(reader: &mut Reader<'_>, posted: &Posted, name: &str) -> Option<i64> {
    let typed = posted.get(name).trim().trim_start_matches('+').replace('−', "-");
    let (sign, digits) = typed.strip_prefix('-').map_or((1, typed.as_str()), |rest| (-1, rest.trim()));
    let milli = decimal::read(digits, 3).ok().map(|milli| sign * milli).filter(|milli| (-8000..=8000).contains(milli));
    if milli.is_none() {
        reader.wrong(name, "type how many stops more it needed, from -8 (much too dark) to 8 (much too pale)");
    }
    milli
}
