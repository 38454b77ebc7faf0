//! The controls with which somebody says how a negative came out.

use askama::Template;

use crate::{
    domain::{
        exposure::{
            Judgement,
            diagnosis::{SIGNS, Sign, judged_by},
            verdict::{Fault, ResultSource, Verdict},
        },
        instant::Instant,
        measure::decimal,
    },
    drawing::negative::Negative,
};

use crate::web::{
    kit::form::{Control, Form},
    request::posted::{Posted, Reader},
};

/// Verdict with a picture of each, stops, how they were found, what spoiled the sheet, what else is to be
/// seen on it.
#[derive(Debug, Template)]
#[template(path = "parts/result_fields.html")]
pub struct ResultFields {
    id: String,
    hint: &'static str,
    error: String,
    described_by: String,
    looks: Vec<LookChoice>,
    stops: Control,
    stops_by: Control,
    fault: Control,
    sign: Control,
}

/// One verdict to choose.
#[derive(Debug)]
struct LookChoice {
    value: &'static str,
    word: &'static str,
    words: String,
    picture: Option<Negative>,
    chosen: bool,
}

impl askama::filters::HtmlSafe for ResultFields {}

impl ResultFields {
    /// For a sheet that is there: each verdict with what the negative looks like and what it means for the
    /// next sheet, in the words of `means`.
    pub fn of(form: &Form, means: impl Fn(Verdict) -> String) -> Self {
        let words = |verdict: Verdict| format!("{}. {}", verdict.looks(), means(verdict));
        Self::with(form, "", Verdict::ALL.map(|verdict| look(form, verdict, words(verdict))).into())
    }

    /// For a form in which it may stay open how the sheet came out.
    pub fn short(form: &Form) -> Self {
        let chosen = form.value("verdict").is_empty();
        let open = LookChoice { value: "", word: "not looked at yet", words: String::new(), picture: None, chosen };
        let looks = std::iter::once(open)
            .chain(Verdict::ALL.map(|verdict| look(form, verdict, verdict.looks().to_owned())))
            .collect();
        Self::with(form, "leave it if nobody has looked at it in the light yet", looks)
    }

    fn with(form: &Form, hint: &'static str, looks: Vec<LookChoice>) -> Self {
        let id = form.id_of("verdict");
        let error = form.error("verdict").to_owned();
        let parts = [(!hint.is_empty(), "hint"), (!error.is_empty(), "error")];
        let described = parts.iter().filter(|(there, _)| *there).map(|(_, part)| format!("{id}-{part}"));
        let mut signs = vec![(String::new(), "nothing else".to_owned())];
        signs.extend(SIGNS.iter().map(|sign| (sign.key(), sign.looks.to_owned())));
        Self {
            described_by: described.collect::<Vec<_>>().join(" "),
            id,
            hint,
            error,
            looks,
            sign: form
                .select("sign", "What else it looks like", &signs)
                .hint("kept with the sheet, whose page then says what usually causes it and what to try"),
            stops: form
                .number("stops", "Stops it needed more")
                .hint("only for “stops given”: 1.5 when it was pale, -1.5 when it was dark")
                .unit("stops")
                .optional(),
            stops_by: form.select("stops_by", "How you know", &found_options()),
            fault: form
                .select("fault", "What spoiled it, if anything did", &fault_options())
                .hint("a spoiled sheet is kept, but teaches the forecast nothing"),
        }
    }
}

fn look(form: &Form, verdict: Verdict, words: String) -> LookChoice {
    let id = format!("{}-{}", form.id_of("look"), verdict.as_str().replace(' ', "-"));
    LookChoice {
        value: verdict.as_str(),
        word: verdict.as_str(),
        words,
        picture: Negative::of(&id, verdict),
        chosen: form.value("verdict") == verdict.as_str(),
    }
}

/// Fills in what a sign picked on the page of signs says, where the form does not say it yet.
pub fn with_sign(mut values: Vec<(&'static str, String)>, sign: Sign) -> Vec<(&'static str, String)> {
    let (verdict, fault) = judged_by(sign);
    let picked = [
        ("verdict", verdict.map_or("", Verdict::as_str).to_owned()),
        ("fault", fault.map_or("", Fault::as_str).to_owned()),
    ];
    for (name, value) in picked {
        match values.iter_mut().find(|(field, _)| *field == name) {
            Some((_, held)) if held.is_empty() => *held = value,
            Some(_) => {}
            None => values.push((name, value)),
        }
    }
    values.retain(|(field, _)| *field != "sign");
    values.push(("sign", sign.key()));
    values
}

/// Verdicts as a list that opens, beginning with “not looked at yet”.
pub fn verdict_options() -> Vec<(String, String)> {
    let mut options = vec![(String::new(), "not looked at yet".to_owned())];
    options.extend(Verdict::ALL.into_iter().map(|verdict| (verdict.as_str().to_owned(), verdict.as_str().to_owned())));
    options
}

/// How a number of stops was found, as a list that opens.
pub fn found_options() -> Vec<(String, String)> {
    [(ResultSource::Eye, "by eye, beside a good negative"), (ResultSource::Scan, "from a scan")]
        .map(|(source, words)| (source.as_str().to_owned(), words.to_owned()))
        .into()
}

/// Faults as a list that opens, beginning with none.
pub fn fault_options() -> Vec<(String, String)> {
    let mut options = vec![(String::new(), "nothing".to_owned())];
    options.extend(Fault::ALL.into_iter().map(|fault| (fault.as_str().to_owned(), fault.looks().to_owned())));
    options
}

/// What a judgement looks like in the fields.
pub fn result_values(judgement: Option<Judgement>) -> [(&'static str, String); 5] {
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
        ("sign", judgement.and_then(|judgement| judgement.sign).map_or_else(String::new, |sign| sign.key())),
    ]
}

/// The names of the fields that make up one judgement.
#[derive(Clone, Debug)]
pub struct ResultNames {
    verdict: String,
    stops: String,
    stops_by: String,
    fault: String,
    sign: String,
}

impl ResultNames {
    /// As [`ResultFields`] calls them.
    pub fn plain() -> Self {
        Self::ending("")
    }

    /// The same with an ending, for rows: `verdict_3`.
    pub fn ending(ending: &str) -> Self {
        let name = |name: &str| format!("{name}{ending}");
        Self {
            verdict: name("verdict"),
            stops: name("stops"),
            stops_by: name("stops_by"),
            fault: name("fault"),
            sign: name("sign"),
        }
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
    let sign = match sent(&names.sign) {
        "" => Some(None),
        _ => reader.choice(&names.sign, Sign::from_key).map(Some),
    };
    let stops_sent = !sent(&names.stops).is_empty();
    if sent(&names.verdict).is_empty() {
        if stops_sent {
            reader.wrong(&names.verdict, "choose “stops given” when you give a number of stops");
            return None;
        }
        if fault?.is_some() || sign?.is_some() {
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
    Some(Some(Judgement { verdict, result, fault: fault?, sign: sign?, judged_at }))
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
