//! The silver book by the time things happened: whatever is typed in late, taken back or put right, the
//! book is true at every date.

use shimlight::{
    domain::{
        baths::batch::{Batch, Slot},
        book::{Amount, MovementKind, Silver, Vessel},
        ids::ContainerId,
        instant::Instant,
        stock::product::ProductKind,
        waste::{container::Contents, removal::Removal},
    },
    export,
    store::{
        self, WriteError,
        book::movements::{self, Loss, Occasion},
    },
};

use crate::darkroom::{Darkroom, refusal};

const DAY: i64 = 24 * 60;

/// A litre with so many grams.
fn litre(grams: i64) -> Amount {
    Amount { volume_ul: 1_000_000, silver: Silver::exactly(grams * 1_000_000) }
}

impl Darkroom {
    fn later(&self, days: i64) {
        self.app.state.world.clock.forward_minutes(days * DAY);
    }

    /// Something done so many days ago and written down now.
    fn ago(&self, days: i64) -> Occasion {
        Occasion { happened_at: self.now().plus_minutes(-days * DAY), ..self.occasion("written down late") }
    }

    async fn spills(&self, vessel: Vessel, ml: i64, occasion: Occasion) -> Result<(), WriteError> {
        self.does(move |tx| {
            Box::pin(async move { movements::write_off(tx, &occasion, vessel, Loss::Spill, ml * 1000).await })
        })
        .await
    }

    async fn pours(&self, from: Vessel, into: ContainerId, ml: i64, occasion: Occasion) -> Result<(), WriteError> {
        self.does(move |tx| Box::pin(async move { movements::pour(tx, &occasion, from, into, ml * 1000, "").await }))
            .await
    }

    async fn removes(&self, container: ContainerId, occasion: Occasion) -> Result<(), WriteError> {
        let removal = Removal {
            id: self.app.state.mint(),
            movement: occasion.movement,
            container,
            carrier: "Fell & Daughters (invented)".to_owned(),
            destination: "Silver works, dock 4 (invented)".to_owned(),
            reference: "FD-9".to_owned(),
            mass_g: None,
            removed_at: occasion.happened_at,
            to_reclaim_silver: false,
            copy_returned_on: None,
            undone_at: None,
            version: 1,
        };
        let mut conn = self.app.state.store.read().await.expect("a reader");
        let version = store::waste::containers::find(&mut conn, container).await.expect("read").expect("there").version;
        drop(conn);
        self.does(move |tx| Box::pin(async move { movements::remove(tx, &occasion, version, &removal).await })).await
    }

    async fn there(&self, vessel: Vessel) -> Amount {
        let mut conn = self.app.state.store.read().await.expect("a reader");
        store::book::balance(&mut conn, vessel).await.expect("a balance")
    }

    /// The cells of a row of the year statement, by column.
    async fn statement(&self, year: i16, contents: &str) -> Vec<(String, String)> {
        let mut conn = self.app.state.store.read().await.expect("a reader");
        let file = export::year_statement::bytes(&mut conn).await.expect("the file");
        rows_of(&file).into_iter().find(|row| row[0].1 == year.to_string() && row[1].1 == contents).unwrap_or_default()
    }

    async fn log(&self) -> Vec<Vec<(String, String)>> {
        let mut conn = self.app.state.store.read().await.expect("a reader");
        rows_of(&export::disposal_log::bytes(&mut conn).await.expect("the file"))
    }
}

fn rows_of(file: &[u8]) -> Vec<Vec<(String, String)>> {
    let mut reader = csv::ReaderBuilder::new().from_reader(file);
    let header: Vec<String> = reader.headers().expect("a header").iter().map(str::to_owned).collect();
    let rows = reader.records().map(|record| record.expect("a row"));
    rows.map(|row| header.iter().cloned().zip(row.iter().map(str::to_owned)).collect()).collect()
}

fn cell<'a>(row: &'a [(String, String)], column: &str) -> &'a str {
    row.iter().find(|(name, _)| name == column).map_or("", |(_, cell)| cell)
}

/// The silver that the newest entry of a kind moved.
async fn moved_by(lab: &Darkroom, kind: MovementKind) -> Amount {
    lab.entries().await.into_iter().rev().find(|entry| entry.kind == kind).expect("an entry").amount
}

#[tokio::test]
async fn a_spill_of_last_year_takes_what_stood_there_then_and_no_more_than_that() {
    let lab = Darkroom::new().await;
    let can = lab.sets_up(Contents::SpentFixer, litre(4)).await;
    let vessel = Vessel::Container(can);
    lab.later(365);
    let more = lab.mixes(ProductKind::Fixer, 1).await;
    lab.retires(&more, 1_000_000, can).await;
    lab.later(1);
    // in the summer of 2026 a litre with 4 g stood there, today two litres
    lab.spills(vessel, 500, lab.ago(270)).await.expect("half of it");
    assert_eq!(moved_by(&lab, MovementKind::Spill).await.silver, Silver::exactly(2_000_000), "as it was then");
    let refused = lab.spills(vessel, 1_200, lab.ago(200)).await.expect_err("half a litre was left");
    let WriteError::Refused(errors) = refused else { panic!("{refused:?}") };
    assert!(errors.of("volume").is_some_and(|it| it.contains("it had 500 mL there on 2 Sep 2026")), "{errors:?}");
    assert_eq!(cell(&lab.statement(2026, "spent fixer").await, "end_ml"), "500");
    lab.is_right().await;
}

#[tokio::test]
async fn what_would_make_a_later_instant_impossible_is_refused_with_the_first_date_and_figure() {
    let lab = Darkroom::new().await;
    let can = lab.sets_up(Contents::SpentFixer, litre(4)).await;
    lab.later(10);
    lab.spills(Vessel::Container(can), 900, lab.occasion("tipped over")).await.expect("it had a litre");
    lab.later(10);
    let more = lab.mixes(ProductKind::Fixer, 1).await;
    lab.retires(&more, 1_000_000, can).await;
    lab.later(10);
    let refused = lab.spills(Vessel::Container(can), 200, lab.ago(25)).await.expect_err("900 mL went after it");
    let said = refusal(refused);
    assert!(said.contains("30 Mar 2026") && said.contains("volume") && said.contains("entry 2 (spill)"), "{said}");
    lab.is_right().await;
}

#[tokio::test]
async fn nothing_enters_a_container_after_its_removal() {
    let lab = Darkroom::new().await;
    let can = lab.sets_up(Contents::SpentFixer, litre(1)).await;
    lab.later(60);
    let fixer = lab.mixes(ProductKind::Fixer, 2).await;
    lab.retires(&fixer, 2_000_000, can).await;
    lab.later(20);
    let refused = refusal(lab.removes(can, lab.ago(40)).await.expect_err("2 L went in after that"));
    assert!(refused.contains("19 May 2026") && refused.contains("retiring"), "{refused}");
    lab.removes(can, lab.ago(10)).await.expect("all of it");
    lab.is_right().await;
}

async fn two_evenings(lab: &Darkroom) -> Batch {
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    lab.puts_through(lab.four_by_five(10)).await.expect("recorded");
    lab.later(10);
    lab.puts_through(lab.four_by_five(40)).await.expect("recorded");
    lab.later(1);
    fixer
}

#[tokio::test]
async fn a_pour_typed_in_late_takes_the_silver_that_stood_there_then() {
    let lab = Darkroom::new().await;
    let fixer = two_evenings(&lab).await;
    let can = lab.sets_up(Contents::SpentFixer, Amount::NOTHING).await;
    lab.pours(Vessel::Batch(fixer.id), can, 498, lab.ago(5)).await.expect("poured");
    // 10 sheets of 4x5 brought 125,159 µg, 4.516 mL of the litre were carried off: half of the rest
    let moved = moved_by(&lab, MovementKind::Pouring).await;
    assert!((moved.silver.best_ug - 62_330).abs() < 50, "{moved:?}");
    lab.is_right().await;
}

#[tokio::test]
async fn a_removal_put_right_in_the_next_year_leaves_both_years_true() {
    let lab = Darkroom::new().await;
    let can = lab.sets_up(Contents::SpentFixer, litre(4)).await;
    lab.later(30);
    lab.removes(can, lab.occasion("")).await.expect("removed");
    lab.later(365);
    lab.takes_back_last(MovementKind::Removal).await.expect("taken back");
    lab.removes(can, lab.ago(365)).await.expect("removed, with the right paper");
    let then = lab.statement(2026, "spent fixer").await;
    assert_eq!((cell(&then, "generated_ml"), cell(&then, "removed_ml"), cell(&then, "end_ml")), ("1000", "1000", "0"));
    assert_eq!(lab.statement(2027, "all").await, [], "nothing happened in it");
    lab.is_right().await;
}

#[tokio::test]
async fn a_mistake_of_last_year_that_is_taken_back_never_happened_in_either_year() {
    let lab = Darkroom::new().await;
    let can = lab.sets_up(Contents::SpentFixer, litre(4)).await;
    lab.later(1);
    lab.spills(Vessel::Container(can), 400, lab.occasion("the wrong can")).await.expect("a spill");
    lab.later(365);
    lab.takes_back_last(MovementKind::Spill).await.expect("taken back");
    let row = lab.statement(2026, "spent fixer").await;
    let said = (cell(&row, "generated_ml"), cell(&row, "written_off_ml"), cell(&row, "end_ml"));
    assert_eq!(said, ("1000", "0", "1000"));
    assert_eq!(lab.statement(2027, "all").await, [], "nothing happened in it");
    lab.is_right().await;
}

#[tokio::test]
async fn a_discharge_from_a_tray_bath_stands_in_the_log_and_in_the_years_statement() {
    let lab = Darkroom::new().await;
    let fixer = two_evenings(&lab).await;
    let (occasion, vessel) = (lab.occasion(""), Vessel::Batch(fixer.id));
    let allowed = lab.allowed(&occasion);
    lab.does(move |tx| Box::pin(async move { movements::discharge(tx, &occasion, &allowed, vessel, 250_000).await }))
        .await
        .expect("written down");
    let log = lab.log().await;
    let row = log.iter().find(|row| cell(row, "event") == "discharge").expect("it is in the log");
    assert_eq!((cell(row, "from"), cell(row, "from_id"), cell(row, "volume_ml")), ("batch", "1", "250"));
    assert_eq!(
        (cell(row, "reference"), cell(row, "contents")),
        ("Harbour sewer works, permit 12 of 2026-01-05", "spent fixer")
    );
    for contents in ["spent fixer", "all"] {
        let row = lab.statement(2026, contents).await;
        let said = (cell(&row, "generated_ml"), cell(&row, "discharged_ml"), cell(&row, "end_ml"));
        assert_eq!(said, ("250", "250", "0"), "{contents}");
        assert_ne!(cell(&row, "discharged_silver_mg"), "0");
    }
    lab.is_right().await;
}

#[tokio::test]
async fn the_log_is_oldest_first_by_when_it_happened() {
    let lab = Darkroom::new().await;
    let can = lab.sets_up(Contents::SpentFixer, litre(4)).await;
    lab.later(10);
    lab.spills(Vessel::Container(can), 10, lab.occasion("dripped")).await.expect("a spill");
    lab.later(10);
    lab.spills(Vessel::Container(can), 20, lab.ago(15)).await.expect("an earlier one");
    lab.later(10);
    lab.takes_back_last(MovementKind::Spill).await.expect("taken back");
    let log = lab.log().await;
    let order: Vec<&str> = log.iter().map(|row| cell(row, "entry")).collect();
    // the spill of day 5 with what took it back, then that of day 10
    assert_eq!(order, ["1", "3", "4", "2"]);
    let times: Vec<&str> = log.iter().map(|row| cell(row, "happened_at")).collect();
    assert!(times.is_sorted(), "{times:?}");
}

#[tokio::test]
async fn in_one_minute_the_order_of_the_book_is_the_order_of_events() {
    let lab = Darkroom::new().await;
    let can = lab.sets_up(Contents::SpentFixer, litre(4)).await;
    lab.later(1);
    // a page that carries seconds, then one on which the minute was typed
    lab.app.state.world.clock.set(lab.now().plus_micros(42_000_000));
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.retires(&fixer, 1_000_000, can).await;
    let minute: Instant = lab.now().plus_micros(-42_000_000);
    let typed = Occasion { happened_at: minute, ..lab.occasion("to the minute") };
    lab.spills(Vessel::Container(can), 1_500, typed).await.expect("two litres stood there");
    assert_eq!(lab.there(Vessel::Container(can)).await.volume_ul, 500_000);
    lab.is_right().await;
}

#[tokio::test]
async fn a_reading_stays_while_an_act_rests_on_it_whatever_its_remark_says() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let late = lab.four_by_five(20);
    lab.later(1);
    lab.reads(Vessel::Batch(fixer.id), 300_000).await.expect("read");
    lab.puts_through(late).await.expect("recorded");
    let entries = lab.entries().await;
    let of = |kind: MovementKind| entries.iter().find(|entry| entry.kind == kind).expect("an entry").movement;
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    let sheet = store::book::find_movement(&mut conn, of(MovementKind::Sheet)).await.expect("read").expect("there");
    assert_eq!(sheet.rests_on, Some(of(MovementKind::Reading)));
    drop(conn);
    let refused = refusal(lab.takes_back_last(MovementKind::Reading).await.expect_err("the sheet rests on it"));
    assert!(refused.contains("count on this reading"), "{refused}");
    lab.is_right().await;
}

#[tokio::test]
async fn sheets_typed_in_after_their_fixer_was_poured_away_reach_the_container_with_it_and_not_before() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let late = lab.four_by_five(20);
    lab.later(300);
    let can = lab.sets_up(Contents::SpentFixer, Amount::NOTHING).await;
    lab.retires(&fixer, 1_000_000, can).await;
    lab.later(1);
    lab.puts_through(late).await.expect("recorded");
    // the sheets are of 2026, the container's first drop of 2027
    assert!(lab.statement(2026, "spent fixer").await.is_empty());
    assert_ne!(cell(&lab.statement(2027, "spent fixer").await, "generated_silver_mg"), "0");
    lab.is_right().await;
}

#[tokio::test]
async fn a_sheet_typed_in_late_is_kept_although_its_bath_was_poured_out_since() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let late = lab.four_by_five(10);
    lab.later(1);
    let can = lab.sets_up(Contents::SpentFixer, Amount::NOTHING).await;
    lab.pours(Vessel::Batch(fixer.id), can, 1_000, lab.occasion("")).await.expect("all of it");
    lab.later(1);
    lab.puts_through(late).await.expect("no sheet is lost");
    lab.is_right().await;
}
