//! The prep sheet: what to mix, cut, set out and label before a session.

use askama::Template;
use axum::{
    extract::{Path, RawQuery, State},
    response::{IntoResponse, Response},
};

use crate::{
    calc::{
        quantity::{Litres, Millilitres},
        working::{figures, plain},
    },
    domain::{
        baths::{batch::Slot, bath_needs::is_used},
        evening::preparation::{
            Mixing, PRINTS_EACH, Plan, SHEETS_EACH, SetOut, mixing, second_mixing, set_out, silver_expected,
        },
        field_errors::FieldErrors,
        ids::LabSessionId,
        measure::{decimal, volume},
        site::Site,
        stock::{
            paper::{Paper, PaperKind},
            product::{Product, ProductKind},
            sheet::Sheet,
            tray::{Tray, fitting},
        },
    },
    store::{
        baths::{tray_lines, tray_slots},
        camera::cameras,
        evening::lab_sessions,
        people::{sections, students},
        site::{site_rules, sites},
        stock::{paper_sizes, papers, products, trays},
    },
    web::kit::{
        access::Access,
        error::WebError,
        form::Form,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::{
    needs::{carry_over, yes_or_no},
    stockroom::products::in_words,
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![page("/front/sessions/{id}/prep", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "print/prep.html")]
struct PrepPage {
    frame: Frame,
    form: Form,
    id: LabSessionId,
    title: String,
    held_on: String,
    section_name: String,
    printed: String,
    paper: String,
    is_film: bool,
    tray_line: String,
    students: u32,
    pairs: u32,
    cameras: usize,
    sheets: u32,
    sheet_size: String,
    area: String,
    mixing: Vec<MixLine>,
    not_stocked: Vec<&'static str>,
    silver: String,
    carried: String,
    second_fixer: Vec<(String, String)>,
    set_out: Vec<SetOut>,
    products: Vec<LabelLine>,
    waste_title: String,
    disposal_contact: String,
    emergency_line: String,
    rules: Vec<String>,
}

/// What to mix of one product.
struct MixLine {
    kind: &'static str,
    name: String,
    parts: String,
    least: String,
    total: String,
    concentrate: String,
    water: String,
    distilled: bool,
    tray_life: String,
}

/// What a bottle and a tray must say.
struct LabelLine {
    kind: &'static str,
    name: String,
    hazards: String,
    data_sheet: String,
}

/// The figures of the form in the address, or the usual ones.
struct Asked {
    students: u32,
    sheets_each: u32,
    sheet: Sheet,
    tray_ml: f64,
    carry_over_ul_per_m2: i64,
    second_fixer: bool,
}

/// What the fields begin with: the same as on the page of the session's needs.
struct Usual {
    students: usize,
    size: String,
    trays: Vec<Tray>,
    carry_over_ul_per_m2: i64,
    second_fixer: bool,
}

fn read(values: &[(String, String)], usual: &Usual) -> Result<Asked, FieldErrors> {
    let get = |name: &str| values.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value.trim());
    let mut errors = FieldErrors::none();
    let whole = |errors: &mut FieldErrors, name: &str, usual: u32, most: u32| match get(name) {
        "" => usual,
        text => text.parse().ok().filter(|number| *number <= most).unwrap_or_else(|| {
            errors.add(name, format!("must be a whole number from 0 to {most}"));
            usual
        }),
    };
    let usual_students = u32::try_from(usual.students).unwrap_or(0);
    let students = whole(&mut errors, "students", usual_students, 500);
    let sheets_each = whole(&mut errors, "sheets_each", SHEETS_EACH + PRINTS_EACH, 100);
    let sheet = Sheet::parse(match get("sheet") {
        "" => &usual.size,
        text => text,
    });
    let tray_ml = match get("tray_l") {
        "" => {
            let fits = sheet.as_ref().ok().and_then(|sheet| fitting(&usual.trays, sheet));
            Ok(fits.map_or(2_000, |tray| tray.holds_ul / 1000))
        }
        text => decimal::read(text, 3),
    };
    if !matches!(tray_ml, Ok(100..=50_000)) {
        errors.add("tray_l", "must be a number from 0.1 to 50");
    }
    let carried = carry_over(get("carry_over"), usual.carry_over_ul_per_m2);
    let carry_over_ul_per_m2 = carried.unwrap_or_else(|message| {
        errors.add("carry_over", message);
        usual.carry_over_ul_per_m2
    });
    let second_fixer = yes_or_no(get("second_fixer"), usual.second_fixer).unwrap_or_else(|message| {
        errors.add("second_fixer", message);
        usual.second_fixer
    });
    match (sheet, tray_ml) {
        (Ok(sheet), Ok(tray_ml)) if errors.is_empty() => {
            Ok(Asked { students, sheets_each, sheet, tray_ml: tray_ml as f64, carry_over_ul_per_m2, second_fixer })
        }
        (sheet, _) => {
            if let Err(error) = sheet {
                errors.add("sheet", error.to_string());
            }
            Err(errors)
        }
    }
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let section = sections::find(&mut conn, session.section).await?.ok_or(WebError::NotFound("this section"))?;
    let paper = papers::find(&mut conn, session.paper).await?.ok_or(WebError::NotFound("this session’s paper"))?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let roster = students::list(&mut conn, section.id).await?.len();
    let shelf = products::list(&mut conn).await?;
    let tray_line = match session.tray_line {
        Some(line) => tray_lines::find(&mut conn, line).await?.map_or(String::new(), |line| line.name),
        None => String::new(),
    };
    let standing = match session.tray_line {
        Some(line) => tray_slots::list_standing(&mut conn, line, state.now()).await?,
        None => Vec::new(),
    };
    let sizes = paper_sizes::list(&mut conn, paper.id).await?;
    let usual = Usual {
        students: roster,
        size: sizes.first().map_or_else(|| "4x5in".to_owned(), |size| size.sheet.typed.clone()),
        trays: trays::list(&mut conn).await?,
        carry_over_ul_per_m2: paper.carry_over_ul_per_m2,
        second_fixer: standing.iter().any(|stay| stay.slot == Slot::SecondFixer),
    };
    let values: Vec<(String, String)> =
        form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned().collect();
    let (asked, errors) = match read(&values, &usual) {
        Ok(asked) => (asked, FieldErrors::none()),
        // the sheet is still of use with the usual figures
        Err(errors) => (read(&[], &usual).map_err(WebError::Refused)?, errors),
    };
    let plan = Plan {
        students: asked.students,
        sheets_each: asked.sheets_each,
        prints_each: 0,
        sheet: crate::calc::quantity::SquareMetres::new(asked.sheet.area_mm2() as f64 / 1e6)
            .map_err(|error| WebError::Ours(error.to_string()))?,
        tray: Millilitres::new(asked.tray_ml).map_err(|error| WebError::Ours(error.to_string()))?,
    };
    let wet = paper.kind == PaperKind::Paper;
    let used: Vec<&Product> = shelf.iter().filter(|product| is_used(product, &paper)).collect();
    let refused = !errors.is_empty();
    let form = if values.is_empty() { filled(&frame, &asked) } else { as_typed(&frame, &values).with_errors(errors) };
    let page = Page::new(PrepPage {
        form,
        id,
        title: session.title.clone(),
        held_on: session.held_on.strftime("%A, %-d %B %Y").to_string(),
        section_name: section.name,
        printed: state.now().as_words(&site.zone),
        paper: format!("{}, EI {}", paper.name, decimal::written(paper.exposure_index_milli, 3)),
        is_film: !wet,
        tray_line,
        students: plan.students,
        pairs: plan.pairs(),
        cameras: cameras::list_of_section(&mut conn, section.id).await?.len(),
        sheets: plan.sheets(),
        sheet_size: asked.sheet.in_words(),
        area: figures(plan.area_m2(), 3),
        not_stocked: [ProductKind::Developer, ProductKind::StopBath, ProductKind::Fixer]
            .into_iter()
            .filter(|kind| wet && used.iter().all(|product| product.kind != *kind))
            .map(ProductKind::as_str)
            .collect(),
        mixing: used
            .iter()
            .flat_map(|product| {
                let second = (asked.second_fixer && product.kind == ProductKind::Fixer)
                    .then(|| second_mixing(&plan, product))
                    .flatten();
                let second = second.map(|mixing| mix_line(Slot::SecondFixer.as_str(), product, mixing));
                let first = mixing(&plan, product, &paper);
                [first.map(|mixing| mix_line(product.kind.as_str(), product, mixing)), second]
            })
            .flatten()
            .collect(),
        carried: if wet { carried_words(&plan, asked.carry_over_ul_per_m2) } else { String::new() },
        second_fixer: [("no", "none"), ("yes", "one more tray")]
            .map(|(value, words)| (value.to_owned(), words.to_owned()))
            .to_vec(),
        silver: silver_words(&plan, &paper, &used),
        set_out: set_out(&plan),
        products: used.iter().map(|product| label_line(product)).collect(),
        rules: site_rules::list(&mut conn).await?.iter().map(|rule| rule.in_words()).collect(),
        waste_title: asked_office(&site, |site| &site.waste_title),
        disposal_contact: asked_office(&site, |site| &site.disposal_contact),
        emergency_line: asked_office(&site, |site| &site.emergency_line),
        frame,
    });
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

fn filled(frame: &Frame, asked: &Asked) -> Form {
    Form::filled(
        frame,
        0,
        [
            ("students", asked.students.to_string()),
            ("sheets_each", asked.sheets_each.to_string()),
            ("sheet", asked.sheet.typed.clone()),
            ("tray_l", plain(asked.tray_ml / 1000.0)),
            ("carry_over", decimal::written(asked.carry_over_ul_per_m2, 3)),
            ("second_fixer", if asked.second_fixer { "yes" } else { "no" }.to_owned()),
        ],
    )
}

fn as_typed(frame: &Frame, values: &[(String, String)]) -> Form {
    Form::filled(frame, 0, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
}

fn asked_office(site: &Site, field: impl Fn(&Site) -> &String) -> String {
    match field(site).as_str() {
        "" => "not entered: ask your safety office".to_owned(),
        text => text.to_owned(),
    }
}

fn carried_words(plan: &Plan, carry_over_ul_per_m2: i64) -> String {
    let ul = (plan.area_m2() * carry_over_ul_per_m2 as f64).round() as i64;
    format!("Drained sheets carry about {} of each bath into the next tray in all.", volume::in_words(ul))
}

fn mix_line(kind: &'static str, product: &Product, mixing: Mixing) -> MixLine {
    let ml = |ml: f64| format!("{} mL", plain(ml.round()));
    MixLine {
        kind,
        name: product.name.clone(),
        parts: product.parts(),
        least: mixing
            .least_l
            .map_or(if kind == Slot::SecondFixer.as_str() { "a tray" } else { "not entered" }.to_owned(), |litres| {
                format!("{} L", figures(litres, 2))
            }),
        total: format!("{} L", plain(mixing.total_ml / 1000.0)),
        concentrate: ml(mixing.concentrate_ml),
        water: ml(mixing.water_ml),
        distilled: product.distilled_water,
        tray_life: product.tray_life_ms.map_or_else(|| "not entered".to_owned(), in_words),
    }
}

fn label_line(product: &Product) -> LabelLine {
    let or_else = |text: &str, words: &str| if text.is_empty() { words.to_owned() } else { text.to_owned() };
    LabelLine {
        kind: product.kind.as_str(),
        name: product.name.clone(),
        hazards: or_else(&product.hazards, "not entered: copy them from the bottle"),
        data_sheet: or_else(&product.data_sheet, "not entered"),
    }
}

/// What the evening leaves in the fixer, so that nobody is surprised by it.
fn silver_words(plan: &Plan, paper: &Paper, used: &[&Product]) -> String {
    let fixer = used.iter().find(|product| product.kind == ProductKind::Fixer);
    let bath = fixer
        .and_then(|fixer| mixing(plan, fixer, paper))
        .and_then(|mixing| Litres::new(mixing.total_ml / 1000.0).ok());
    let Some(silver) = bath.and_then(|bath| silver_expected(plan, paper, bath)) else {
        return String::new();
    };
    format!(
        "About {} g of silver ({} to {} g) will be in the fixer afterwards, {} g/L if it is fresh.",
        figures(silver.grams[1], 2),
        figures(silver.grams[0], 2),
        figures(silver.grams[2], 2),
        figures(silver.g_per_l, 2)
    )
}
