//! The rows to fill, one a sheet, and what the short words in them mean.

use askama::Template;

use crate::web::fields::looks::{Look, looks};
use crate::{
    domain::{exposure::found_light::SKY_LETTERS, people::student::Student},
    web::{
        fields::result_fields::{fault_options, found_options, verdict_options},
        kit::form::Form,
    },
};

use super::{Around, MOST_ROWS, Typist};

/// The rows.
#[derive(Debug, Template)]
#[template(path = "parts/card_grid.html")]
pub struct CardGrid {
    partners: bool,
    /// The heads of the columns, each with the name of its fields.
    heads: Vec<(&'static str, &'static str)>,
    rows: Vec<CardRow>,
}

impl askama::filters::HtmlSafe for CardGrid {}

/// The row of one card.
#[derive(Debug)]
struct CardRow {
    number: usize,
    cells: Vec<CardCell>,
}

/// One field of a card.
#[derive(Debug)]
struct CardCell {
    /// Which field it is: `camera`.
    field: &'static str,
    /// Its name and id: `camera_3`.
    name: String,
    label: &'static str,
    value: String,
    error: String,
    inputmode: &'static str,
    /// What a list offers; empty for a line of text.
    options: Vec<(String, String)>,
}

impl CardGrid {
    /// So many rows of a form.
    pub fn of(form: &Form, around: &Around, rows: usize) -> Self {
        let columns = columns(around);
        Self {
            partners: around.typist == Typist::Partner,
            heads: columns.iter().map(|column| (column.field, column.label)).collect(),
            rows: (1..=rows).map(|row| CardRow::of(form, row, &columns)).collect(),
        }
    }

    /// Whether more rows may be asked for.
    pub fn may_grow(&self) -> bool {
        self.rows.len() < MOST_ROWS
    }

    fn count(&self) -> usize {
        self.rows.len()
    }
}

/// A column of the cards.
struct Column {
    field: &'static str,
    label: &'static str,
    inputmode: &'static str,
    options: Vec<(String, String)>,
}

/// The columns, in the order of the card.
fn columns(around: &Around) -> Vec<Column> {
    let text = |field, label| Column { field, label, inputmode: "", options: Vec::new() };
    let list = |field, label, options| Column { field, label, inputmode: "", options };
    let mut columns = Vec::new();
    match around.typist {
        Typist::Staff => {
            columns.push(Column { inputmode: "numeric", ..text("camera", "Camera") });
            columns.push(text("student", "Roster number"));
        }
        // of a camera that nobody shares it is known whose they are
        Typist::Partner if around.students.len() > 1 => {
            columns.push(list("student", "Whose", whose_options(&around.students)));
        }
        Typist::Partner => {}
    }
    columns.extend([
        text("light", "Light"),
        text("made", "Seconds"),
        text("time", "Time"),
        text("sheet", "Size"),
        text("aim", "Exposed for"),
        list("verdict", "Result", verdict_options()),
        Column { inputmode: "decimal", ..text("stops", "Stops more") },
        list("stops_by", "Known", found_options()),
        list("fault", "Spoiled by", fault_options()),
    ]);
    if around.has_trays {
        columns.push(text("trays", "Trays at"));
    }
    if around.typist == Typist::Staff {
        columns.push(text("hole", "Hole, mm"));
    }
    columns.push(text("remark", "Remark"));
    columns
}

fn whose_options(students: &[Student]) -> Vec<(String, String)> {
    let mut options = vec![(String::new(), "choose".to_owned())];
    options.extend(students.iter().map(|student| {
        let Student { roster_number, name, .. } = student;
        (roster_number.clone(), format!("{roster_number} {name}"))
    }));
    options
}

impl CardRow {
    fn of(form: &Form, number: usize, columns: &[Column]) -> Self {
        let cell = |column: &Column| {
            let name = format!("{}_{number}", column.field);
            CardCell {
                field: column.field,
                label: column.label,
                value: form.value(&name).to_owned(),
                error: form.error(&name).to_owned(),
                inputmode: column.inputmode,
                options: column.options.clone(),
                name,
            }
        };
        Self { number, cells: columns.iter().map(cell).collect() }
    }
}

/// What the short words of the rows mean.
#[derive(Template)]
#[template(path = "parts/card_words.html")]
pub struct CardWords {
    letters: Vec<(&'static str, &'static str, bool)>,
    held_on: String,
    has_trays: bool,
    partners: bool,
    cameras: Vec<String>,
    looks: Vec<Look>,
}

impl askama::filters::HtmlSafe for CardWords {}

impl CardWords {
    /// For the rows of a pile; `cameras` in words, for staff.
    pub fn of(around: &Around, cameras: Vec<String>) -> Self {
        Self {
            letters: SKY_LETTERS.iter().map(|(letters, sky)| (*letters, sky.label(), sky.has_shadows())).collect(),
            held_on: held_on(around),
            has_trays: around.has_trays,
            partners: around.typist == Typist::Partner,
            cameras,
            looks: looks("look"),
        }
    }
}

/// The session's date in words.
pub fn held_on(around: &Around) -> String {
    around.session.held_on.strftime("%-d %b %Y").to_string()
}
