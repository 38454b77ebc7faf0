//! Volumes and temperatures typed by people who read in fl oz and °F beside people who read in mL and °C.

use std::sync::Arc;

use axum::http::StatusCode;
use scraper::{Html, Selector};
use shimlight::{
    domain::{
        book::Vessel,
        people::actor::Role,
        site::site_rule::Asks,
        stock::product::{Product, ProductKind, Times},
    },
    store,
};

use super::{
    chemistry::{local_now, mixes, nothing_is_wrong, stocks},
    waste::{id_of, sets_up, version},
};
use crate::app::{Answer, Client, TestApp};

/// The fields that a browser sends of a form that nobody touched.
fn as_it_stands(page: &Answer, action: &str) -> Vec<(String, String)> {
    let html = Html::parse_document(&page.body);
    let select = |css: &str| Selector::parse(css).expect("a selector");
    let form = html.select(&select(&format!("form[action='{action}']"))).next().expect("the form");
    let mut fields = Vec::new();
    for control in form.select(&select("input, textarea, select")) {
        let Some(name) = control.value().attr("name") else { continue };
        let kind = control.value().attr("type").unwrap_or_default();
        let value = match control.value().name() {
            "textarea" => control.text().collect::<String>().trim_start_matches('\n').to_owned(),
            "select" => {
                let chosen = control.select(&select("option[selected]")).next();
                let first = || control.select(&select("option")).next();
                let option = chosen.or_else(first).expect("an option");
                option.value().attr("value").unwrap_or_default().to_owned()
            }
            _ if matches!(kind, "checkbox" | "radio") && control.value().attr("checked").is_none() => continue,
            _ => control.value().attr("value").unwrap_or_default().to_owned(),
        };
        fields.push((name.to_owned(), value));
    }
    fields
}

/// Opens a form and sends it with these fields typed over.
async fn sends(who: &Client, page: &str, action: &str, typed: &[(&str, &str)]) -> Answer {
    let shown = who.get(page).await;
    let mut fields = as_it_stands(&shown, action);
    for (name, value) in typed {
        match fields.iter_mut().find(|(field, _)| field == name) {
            Some(field) => (*value).clone_into(&mut field.1),
            None => fields.push(((*name).to_owned(), (*value).to_owned())),
        }
    }
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    who.post(action, &fields).await
}

/// An instructor who reads in fl oz and °F, and their assistant who does not.
async fn two_people() -> (Arc<TestApp>, Client, Client) {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/units", &[("units", "inch"), ("back", "/front")]).await;
    let assistant = app.staff(Role::Assistant, "Pat Lumen").await;
    (app, instructor, assistant)
}

async fn holds(app: &TestApp, batch_or_can: &str) -> i64 {
    let id = id_of(batch_or_can);
    let vessel = if batch_or_can.contains("/batches/") {
        Vessel::Batch(id.parse().expect("an id"))
    } else {
        Vessel::Container(id.parse().expect("an id"))
    };
    let mut conn = app.state.store.read().await.expect("a reader");
    store::book::balance(&mut conn, vessel).await.expect("a balance").volume_ul
}

async fn product(app: &TestApp, id: &str) -> Product {
    let mut conn = app.state.store.read().await.expect("a reader");
    store::stock::products::find(&mut conn, id.parse().expect("an id")).await.expect("products").expect("stocked")
}

#[tokio::test]
async fn a_form_saved_untouched_changes_nothing_in_either_units() {
    let (app, instructor, assistant) = two_people().await;
    // figures that no graduate shows: 64 fl oz, and 75 °F
    let id = stocks(&app, ProductKind::Developer).await;
    let odd = id.clone();
    app.write(move |tx| {
        Box::pin(async move {
            let product = store::stock::products::find(tx, odd.parse().expect("an id")).await?.expect("stocked");
            let times = Times { film_ms: Some(600_000), at_milli_c: Some(23_889), ..product.times };
            store::stock::products::update(tx, &Product { on_shelf_ul: Some(1_892_706), times, ..product }).await?;
            Ok(String::new())
        })
    })
    .await;
    let trays = [("trays_name", "Enamel"), ("holds", "64 fl oz"), ("count", "3"), ("source", "measured")];
    instructor.saves("/front/stockroom/trays", &trays).await;
    let tray = {
        let mut conn = app.state.store.read().await.expect("a reader");
        let all = store::stock::trays::list(&mut conn).await.expect("trays");
        all.into_iter().find(|tray| tray.name == "Enamel").expect("stocked")
    };
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    sends(&instructor, &can, &format!("{can}/edit"), &[("capacity", "5 gal")]).await;
    let capacity = async || {
        let mut conn = app.state.store.read().await.expect("a reader");
        let id = id_of(&can).parse().expect("an id");
        store::waste::containers::find(&mut conn, id).await.expect("containers").expect("set up").capacity_ul
    };
    assert_eq!(capacity().await, 18_927_059);
    let (of_product, of_tray) =
        (format!("/front/stockroom/products/{id}"), format!("/front/stockroom/trays/{}", tray.id));
    let edit = format!("{can}/edit");
    for (who, number, unit, at) in [(&instructor, "64", "fl oz", "75"), (&assistant, "1893", "mL", "23.889")] {
        let page = who.get(&of_product).await;
        assert_eq!(page.attribute("[name=on_shelf]", "value").as_deref(), Some(number));
        assert_eq!(page.text("[name=on_shelf] ~ .unit"), unit);
        assert_eq!(page.attribute("[name=at]", "value").as_deref(), Some(at));
        for (page, action) in [(&of_product, &of_product), (&of_tray, &of_tray), (&can, &edit)] {
            let answer = sends(who, page, action, &[]).await;
            assert_eq!(answer.status, StatusCode::SEE_OTHER, "{action}: {}", answer.text("main"));
        }
        let kept = product(&app, &id).await;
        assert_eq!((kept.on_shelf_ul, kept.times.at_milli_c), (Some(1_892_706), Some(23_889)), "{unit}");
        assert_eq!(capacity().await, 18_927_059, "{unit}");
        let mut conn = app.state.store.read().await.expect("a reader");
        let kept = store::stock::trays::find(&mut conn, tray.id).await.expect("trays").expect("stocked");
        assert_eq!(kept.holds_ul, 1_892_706, "{unit}");
    }
}

#[tokio::test]
async fn seventeen_is_seventeen_of_what_stands_behind_the_field() {
    let (app, instructor, assistant) = two_people().await;
    let id = stocks(&app, ProductKind::Fixer).await;
    let of_product = format!("/front/stockroom/products/{id}");
    sends(&instructor, &of_product, &of_product, &[("on_shelf", "17"), ("time_film", "60"), ("at", "68")]).await;
    let kept = product(&app, &id).await;
    assert_eq!((kept.on_shelf_ul, kept.times.at_milli_c), (Some(502_750), Some(20_000)));
    sends(&assistant, &of_product, &of_product, &[("on_shelf", "17"), ("at", "20")]).await;
    assert_eq!(product(&app, &id).await.on_shelf_ul, Some(17_000));
    // a unit that is typed always counts
    sends(&instructor, &of_product, &of_product, &[("on_shelf", "17 mL"), ("at", "21 C")]).await;
    let kept = product(&app, &id).await;
    assert_eq!((kept.on_shelf_ul, kept.times.at_milli_c), (Some(17_000), Some(21_000)));

    // mixed, measured, topped up, written off; a can with something in it, and a rule
    let mix = format!("/front/chemistry/mix?product={id}");
    let mixed = sends(&instructor, &mix, "/front/chemistry/batches", &[("volume", "34"), ("recount", "yes")]).await;
    let batch = mixed.location();
    assert_eq!(holds(&app, &batch).await, 1_005_500);
    let act = async |who: &Client, act: &str, typed: &[(&str, &str)]| {
        let answer = sends(who, &batch, &format!("{batch}/{act}"), typed).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{act}: {}", answer.text("main"));
        holds(&app, &batch).await
    };
    assert_eq!(act(&instructor, "measure", &[("measured", "33")]).await, 975_926);
    assert_eq!(act(&assistant, "measure", &[("measured", "970")]).await, 970_000);
    let topped = [("measured", "32"), ("addition", "water"), ("added", "1")];
    assert_eq!(act(&instructor, "top-up", &topped).await, 946_353 + 29_574);
    let spilt = [("loss", "spill"), ("volume", "1"), ("remark", "knocked over")];
    assert_eq!(act(&instructor, "write-off", &spilt).await, 946_353);
    let new = [("contents", "spent fixer"), ("capacity", "640"), ("hazards", "irritant"), ("place", "")];
    let can = sends(&instructor, "/front/waste/containers/new", "/front/waste/containers", &new).await.location();
    assert_eq!(act(&instructor, "pour", &[("volume", "2"), ("into", id_of(&can))]).await, 946_353 - 59_147);
    assert_eq!(holds(&app, &can).await, 59_147);
    let rule = [("clock", "past volume"), ("volume", "7000"), ("source", "the safety office")];
    let entered = sends(&instructor, "/front/site", "/front/site/rules", &rule).await;
    assert_eq!(entered.status, StatusCode::SEE_OTHER, "{}", entered.text("main"));
    let mut conn = app.state.store.read().await.expect("a reader");
    let rules = store::site::site_rules::list(&mut conn).await.expect("rules");
    assert!(rules.iter().any(|rule| matches!(rule.asks, Asks::AtMost { volume_ul: 207_014_710, .. })), "{rules:?}");
    drop(conn);
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn wrong_input_keeps_what_was_typed_and_says_the_range_in_the_persons_units() {
    let (app, instructor, assistant) = two_people().await;
    let id = stocks(&app, ProductKind::Developer).await;
    let mix = format!("/front/chemistry/mix?product={id}");
    let wrong = sends(&instructor, &mix, "/front/chemistry/batches", &[("volume", "0.1")]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(wrong.error_beside("volume"), "must be from 0.34 fl oz (10 mL) to 33814.02 fl oz (1000 L)");
    assert_eq!(wrong.attribute("[name=volume]", "value").as_deref(), Some("0.1"));
    assert_eq!(wrong.text("[name=volume] ~ .unit"), "fl oz");
    let wrong = sends(&assistant, &mix, "/front/chemistry/batches", &[("volume", "0.1")]).await;
    assert_eq!(wrong.error_beside("volume"), "must be from 10 mL to 1000 L");
    let of_product = format!("/front/stockroom/products/{id}");
    let wrong = sends(&instructor, &of_product, &of_product, &[("on_shelf", "some"), ("at", "20")]).await;
    assert!(wrong.error_beside("on_shelf").contains("a number of US fl oz"), "{}", wrong.error_beside("on_shelf"));
    assert!(wrong.error_beside("at").contains("from 32 to 140 °F"), "{}", wrong.error_beside("at"));
    assert_eq!(wrong.attribute("[name=on_shelf]", "value").as_deref(), Some("some"));
    // worked out before it is saved, in the same units
    let asked = instructor.get(&format!("{mix}&volume=34&volume_in=inch&parts=1%2B0")).await;
    assert!(asked.text("main").contains("34 fl oz (1006 mL)"), "{}", asked.text("main"));
}

/// The label said fl oz when the number was typed; in another window the units were changed meanwhile.
#[tokio::test]
async fn a_number_means_what_its_label_said_though_the_units_were_changed_since() {
    let (app, instructor, _assistant) = two_people().await;
    let batch = mixes(&instructor, ProductKind::Developer, "1 L").await;
    let mut fields = as_it_stands(&instructor.get(&batch).await, &format!("{batch}/measure"));
    for (name, value) in &mut fields {
        if name == "measured" {
            "33".clone_into(value);
        }
    }
    instructor.saves("/front/units", &[("units", "metric"), ("back", &batch)]).await;
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let wrong: Vec<(&str, &str)> =
        fields.iter().map(|&(name, value)| (name, if name == "measured" { "a cup" } else { value })).collect();
    let refused = instructor.post(&format!("{batch}/measure"), &wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        refused.text("form[action$='/measure'] [name=measured] ~ .unit"),
        "fl oz",
        "what was typed stands beside the unit it was typed in"
    );
    instructor.saves(&format!("{batch}/measure"), &fields).await;
    assert_eq!(holds(&app, &batch).await, 975_926);
    // a script that names no units means the person's own
    let at = local_now(&instructor);
    let version = version(&instructor, &batch).await;
    instructor
        .saves(&format!("{batch}/measure"), &[("version", &version), ("measured", "950"), ("happened_at", &at)])
        .await;
    assert_eq!(holds(&app, &batch).await, 950_000);
}
