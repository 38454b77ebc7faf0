//! The silver book as the store keeps it: sheets load it, mistakes are taken back, nothing is erased.

use shimlight::{
    domain::{
        baths::{batch::Slot, sheet_run::Decision, shortfall::Missing},
        book::{self, Amount, MovementKind, Vessel},
        field_errors::FieldErrors,
        ids::{BatchId, ContainerId},
        instant::Instant,
        stock::product::ProductKind,
        waste::{container::Contents, reading::Method},
    },
    store::{
        self, WriteError,
        baths::sheet_runs,
        book::movements::{self, Loss, Retiring},
    },
};

use crate::darkroom::{Darkroom, refusal};

#[tokio::test]
async fn a_class_of_twenty_four_leaves_two_point_four_grams_in_the_fixer_and_the_wash() {
    // 24 students x 8 sheets of 4x5 at 0.97 g/m²: 2.40 g, 0.60 g/L in 4 L (worked by hand in this test)
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 4).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    for _ in 0..24 {
        lab.puts_through(lab.four_by_five(8)).await.expect("recorded");
    }
    let entries = lab.entries().await;
    let totals = book::laws::Totals::of(&entries);
    let silver_g = totals.sources.silver.best_ug as f64 / 1e6;
    assert!((silver_g - 2.40).abs() < 0.005, "{silver_g}");
    let bath = lab.holds(&fixer).await;
    // 2.477 m² x 35 mL/m² carried off: 86.7 mL
    assert_eq!(4_000_000 - bath.volume_ul, 24 * 3613, "{bath:?}");
    let concentration = bath.ug_per_l().expect("liquid").best_ug as f64 / 1e6;
    assert!((concentration - 0.60).abs() < 0.01, "{concentration}");
    assert_eq!(book::laws::broken(&entries), []);
}

#[tokio::test]
async fn of_two_fixers_the_first_takes_the_silver_and_gives_the_second_its_share() {
    let lab = Darkroom::new().await;
    let (first, second) = (lab.mixes(ProductKind::Fixer, 1).await, lab.mixes(ProductKind::Fixer, 1).await);
    lab.sets_in(Slot::Fixer, &first).await;
    lab.sets_in(Slot::SecondFixer, &second).await;
    lab.puts_through(lab.four_by_five(10)).await.expect("recorded");
    let (one, two) = (lab.holds(&first).await, lab.holds(&second).await);
    // 129,030 mm² x 35 mL/m² = 4.516 mL; 0.970 g/m² = 125,159 µg, of which 4.516/1000 is carried on
    assert_eq!(one.volume_ul, 1_000_000 - 4516);
    assert_eq!(one.silver.best_ug, 125_159 - 565);
    assert_eq!(two.volume_ul, 1_000_000, "as much comes in as goes out");
    assert_eq!(two.silver.best_ug, 565 - 3, "{two:?}");
    assert_eq!(book::laws::broken(&lab.entries().await), []);
}

#[tokio::test]
async fn without_a_fixer_in_the_line_sheets_are_recorded_and_nothing_is_booked() {
    let lab = Darkroom::new().await;
    let developer = lab.mixes(ProductKind::Developer, 2).await;
    lab.sets_in(Slot::Developer, &developer).await;
    let before = lab.entries().await.len();
    lab.puts_through(lab.four_by_five(3)).await.expect("recorded");
    assert_eq!(lab.entries().await.len(), before);
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    let through = store::baths::batches::through(&mut conn, developer.id).await.expect("an area");
    assert_eq!((through.area_mm2, through.rc_area_mm2, through.sheets), (3 * 12_903, 3 * 12_903, 3));
    assert_eq!(sheet_runs::list_unbooked(&mut conn).await.expect("runs").len(), 1);
}

#[tokio::test]
async fn sheets_taken_back_leave_the_bath_as_it_was_and_can_be_taken_back_once() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 2).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    lab.puts_through(lab.four_by_five(5)).await.expect("recorded");
    let before = lab.holds(&fixer).await;
    let run = lab.puts_through(lab.four_by_five(2)).await.expect("recorded");
    lab.takes_back(run).await.expect("taken back");
    assert_eq!(lab.holds(&fixer).await, before);
    assert_eq!(refusal(lab.takes_back(run).await.expect_err("once")), "these sheets were taken back already");
    assert_eq!(book::laws::broken(&lab.entries().await), []);
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    assert_eq!(store::baths::batches::through(&mut conn, fixer.id).await.expect("an area").sheets, 5);
}

#[tokio::test]
async fn a_batch_set_into_a_tray_takes_the_place_of_the_one_that_stood_there() {
    let lab = Darkroom::new().await;
    let (first, second) = (lab.mixes(ProductKind::Fixer, 1).await, lab.mixes(ProductKind::Fixer, 1).await);
    lab.sets_in(Slot::Fixer, &first).await;
    let late = lab.four_by_five(1);
    lab.app.state.world.clock.forward_minutes(30);
    lab.sets_in(Slot::Fixer, &second).await;
    // typed in late, but developed while the first one stood there
    lab.puts_through(late).await.expect("recorded");
    lab.puts_through(lab.four_by_five(1)).await.expect("recorded");
    for batch in [&first, &second] {
        assert!(lab.holds(batch).await.silver.best_ug > 12_000, "{}", batch.name());
    }
}

#[tokio::test]
async fn a_developer_does_not_go_into_the_fixers_tray_nor_anything_before_it_was_mixed() {
    let lab = Darkroom::new().await;
    let developer = lab.mixes(ProductKind::Developer, 1).await;
    let (line, now, id) = (lab.evening.tray_line, lab.now(), lab.app.state.mint());
    let error = lab
        .does(move |tx| {
            Box::pin(async move { movements::set_in(tx, id, (line, Slot::Fixer), developer.id, now, now).await })
        })
        .await
        .expect_err("refused");
    let expected = FieldErrors::one("batch", "developer 1 does not belong into the fixer tray");
    assert!(matches!(error, WriteError::Refused(errors) if errors == expected));
    let earlier = now.plus_minutes(-5);
    let error = lab
        .does(move |tx| {
            Box::pin(
                async move { movements::set_in(tx, id, (line, Slot::Developer), developer.id, earlier, now).await },
            )
        })
        .await
        .expect_err("refused");
    assert_eq!(refusal(error), "developer 1 was not mixed yet");
}

#[tokio::test]
async fn the_schema_refuses_to_change_or_erase_what_is_booked() {
    let lab = Darkroom::new().await;
    lab.mixes(ProductKind::Fixer, 1).await;
    for sql in [
        "UPDATE book_entry SET volume_ul = 0",
        "DELETE FROM book_entry",
        "UPDATE movement SET remark = 'never happened'",
        "DELETE FROM movement",
    ] {
        let error = lab
            .does(move |tx| {
                Box::pin(async move {
                    sqlx::query(sql).execute(tx).await?;
                    Ok(())
                })
            })
            .await
            .expect_err("refused");
        assert!(matches!(&error, WriteError::Constraint(said) if said.contains("append-only")), "{sql}: {error:?}");
    }
    assert_eq!(lab.entries().await.len(), 1);
}

/// Breaks the book behind the program's back and gives what the check says.
async fn said_of(broken: &'static [&'static str]) -> Vec<String> {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    lab.puts_through(lab.four_by_five(4)).await.expect("recorded");
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    assert_eq!(store::engine::check::run(&mut conn).await.expect("a check"), []);
    drop(conn);
    let options = sqlx::sqlite::SqliteConnectOptions::new().filename(lab.app.state.store.path()).foreign_keys(false);
    let mut behind = <sqlx::SqliteConnection as sqlx::Connection>::connect_with(&options).await.expect("the file");
    for trigger in ["book_entry_is_never_changed", "book_entry_is_never_deleted", "movement_is_never_changed"] {
        sqlx::query(sqlx::AssertSqlSafe(format!("DROP TRIGGER {trigger}"))).execute(&mut behind).await.expect("gone");
    }
    for sql in broken {
        sqlx::query(*sql).execute(&mut behind).await.expect(sql);
    }
    let faults = store::engine::check::run(&mut behind).await.expect("a check");
    faults.iter().map(ToString::to_string).collect()
}

#[tokio::test]
async fn the_check_says_where_a_book_was_broken() {
    // entries: 1 mixing, 2 paper into the fixer, 3 fixer into the wash
    for (broken, expected) in [
        (
            &["UPDATE book_entry SET volume_ul = volume_ul + 2000000 WHERE entry = 3"][..],
            "entry 3: leaves a batch with a volume below zero",
        ),
        (
            &["DELETE FROM book_entry WHERE entry = 1"],
            "fixer 1: the book does not have its mixing once, with its volume",
        ),
        (&["DELETE FROM sheet_run_batch", "DELETE FROM sheet_run"], "the record that caused it is missing"),
        (&["UPDATE sheet_run SET undone_at = 1"], "record and book do not agree on whether it was taken back"),
        (&["UPDATE book_entry SET happened_at = 1 WHERE entry = 2"], "entry 2: does not say the same as the movement"),
        (&["UPDATE book_entry SET reverses = 1, kind = 'reversal' WHERE entry = 3"], "is not the mirror of entry 1"),
        (&["UPDATE batch SET state = 'retired', retired_at = 1"], "fixer 1: is retired and not empty"),
        (&["UPDATE book_entry SET movement_id = randomblob(16) WHERE entry = 2"], "entry 2: names no movement"),
        (
            &["UPDATE book_entry SET movement_id = randomblob(16) WHERE entry = 2"],
            "the file: row 2 of book_entry names a",
        ),
    ] {
        let said = said_of(broken).await;
        assert!(said.iter().any(|line| line.contains(expected)), "{broken:?}: {said:?}");
    }
}

#[tokio::test]
async fn a_sheet_typed_in_after_a_reading_that_found_its_silver_is_not_counted_twice() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let late = lab.four_by_five(20);
    lab.app.state.world.clock.forward_minutes(30);
    lab.reads(Vessel::Batch(fixer.id), 300_000).await.expect("read");
    let run = lab.puts_through(late).await.expect("recorded");
    let bath = lab.holds(&fixer).await;
    // the liquid it carried off left before the reading, which found what was there: 0.3 g
    assert_eq!((bath.volume_ul, bath.silver.best_ug), (1_000_000 - 9_032, 300_000), "{bath:?}");
    let refused = lab.takes_back_last(MovementKind::Reading).await.expect_err("the sheet rests on it");
    assert_eq!(refusal(refused), "sheets typed in late count on this reading: take entry 3 (sheet) back first");
    lab.takes_back(run).await.expect("taken back");
    lab.takes_back_last(MovementKind::Reading).await.expect("taken back");
    assert!(lab.holds(&fixer).await.silver.is_none());
    lab.is_right().await;
}

#[tokio::test]
async fn a_sheet_older_than_a_reading_stands_until_the_reading_is_taken_back() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let run = lab.puts_through(lab.four_by_five(4)).await.expect("recorded");
    lab.reads(Vessel::Batch(fixer.id), 500_000).await.expect("read");
    let said = refusal(lab.takes_back(run).await.expect_err("older"));
    assert_eq!(said, "the silver of fixer 1 was read since: take the reading back first (entry 4)");
    lab.takes_back_last(MovementKind::Reading).await.expect("taken back");
    lab.takes_back(run).await.expect("taken back");
    assert_eq!(lab.holds(&fixer).await, Amount::volume(1_000_000));
    lab.is_right().await;
}

fn nothing_left(batch: BatchId) -> Retiring {
    Retiring { batch, version: 1, measured_ul: 0, missing: None, into: None, although: String::new() }
}

#[tokio::test]
async fn a_spill_of_all_of_it_takes_the_silver_and_leaves_a_batch_that_needs_no_container() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    lab.puts_through(lab.four_by_five(4)).await.expect("recorded");
    let vessel = Vessel::Batch(fixer.id);
    let (all, occasion) = (lab.holds(&fixer).await.volume_ul, lab.occasion("the bottle broke"));
    lab.does(move |tx| Box::pin(async move { movements::write_off(tx, &occasion, vessel, Loss::Spill, all).await }))
        .await
        .expect("written off");
    assert!(lab.holds(&fixer).await.is_nothing());
    let (occasion, id) = (lab.occasion(""), fixer.id);
    lab.does(move |tx| Box::pin(async move { movements::retire(tx, &occasion, &nothing_left(id)).await }))
        .await
        .expect("retired");
    // somebody else's page still shows it in use
    let occasion = lab.occasion("");
    let stale = lab
        .does(move |tx| Box::pin(async move { movements::retire(tx, &occasion, &nothing_left(id)).await }))
        .await
        .expect_err("retired already");
    assert!(matches!(stale, WriteError::Stale(_)), "{stale:?}");
    lab.is_right().await;
}

#[tokio::test]
async fn three_containers_poured_together_hold_what_they_held() {
    // 4 L at 0.6 g/L, 2 L at 1.8 g/L and 10 L of nothing: 16 L with 6.0 g, 0.375 g/L (worked by hand in this test)
    let lab = Darkroom::new().await;
    let of = |litres: i64, g_per_l: f64| Amount {
        volume_ul: litres * 1_000_000,
        silver: book::Silver::exactly((litres as f64 * g_per_l * 1e6).round() as i64),
    };
    let target = lab.sets_up(Contents::SpentFixer, of(10, 0.0)).await;
    for (litres, g_per_l) in [(4, 0.6), (2, 1.8)] {
        let from = Vessel::Container(lab.sets_up(Contents::SpentFixer, of(litres, g_per_l)).await);
        let occasion = lab.occasion("");
        lab.does(move |tx| {
            Box::pin(async move { movements::pour(tx, &occasion, from, target, litres * 1_000_000, "").await })
        })
        .await
        .expect("poured");
    }
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    let blend = store::book::balance(&mut conn, Vessel::Container(target)).await.expect("a balance");
    drop(conn);
    assert_eq!(blend, of(16, 0.375));
    assert_eq!(blend.ug_per_l().expect("liquid").best_ug, 375_000);
    lab.is_right().await;
}

#[tokio::test]
async fn with_the_second_fixer_gone_the_first_ones_liquid_goes_to_the_wash() {
    let lab = Darkroom::new().await;
    let (first, second) = (lab.mixes(ProductKind::Fixer, 1).await, lab.mixes(ProductKind::Fixer, 1).await);
    lab.sets_in(Slot::Fixer, &first).await;
    lab.sets_in(Slot::SecondFixer, &second).await;
    let late = lab.four_by_five(10);
    lab.app.state.world.clock.forward_minutes(30);
    let can = lab.sets_up(Contents::SpentFixer, Amount::NOTHING).await;
    lab.retires(&second, 1_000_000, can).await;
    lab.puts_through(late).await.expect("recorded");
    let last = lab.entries().await.pop().expect("an entry");
    assert_eq!((last.from.batch(), last.to.word()), (Some(first.id), "wash"));
    lab.is_right().await;
}

fn retiring(batch: BatchId, measured_ul: i64, missing: Option<Missing>, into: Option<ContainerId>) -> Retiring {
    Retiring { batch, version: 1, measured_ul, missing, into, although: String::new() }
}

#[tokio::test]
async fn what_is_missing_beyond_what_sheets_carry_off_is_asked_for_and_a_spill_takes_its_silver() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 2).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    lab.puts_through(lab.four_by_five(40)).await.expect("recorded");
    let before = lab.holds(&fixer).await;
    let can = lab.sets_up(Contents::SpentFixer, Amount::NOTHING).await;
    let retires = async |retiring: Retiring, remark: &str| {
        let occasion = lab.occasion(remark);
        lab.does(move |tx| Box::pin(async move { movements::retire(tx, &occasion, &retiring).await })).await
    };
    let error = retires(retiring(fixer.id, 1_500_000, None, Some(can)), "").await.expect_err("480 mL are missing");
    assert!(matches!(&error, WriteError::Refused(errors) if errors.of("missing").is_some()), "{error:?}");
    // nothing left and nobody says why
    let error = retires(retiring(fixer.id, 0, None, None), "").await.expect_err("all of it is missing");
    assert!(matches!(&error, WriteError::Refused(errors) if errors.of("missing").is_some()), "{error:?}");
    // what dries up leaves its silver behind
    let dried = retiring(fixer.id, 0, Some(Missing::Evaporated), None);
    let error = retires(dried, "").await.expect_err("the silver is still there");
    assert!(matches!(&error, WriteError::Refused(errors) if errors.of("measured").is_some()), "{error:?}");
    // somewhere else has to be said where
    let elsewhere = retiring(fixer.id, 1_500_000, Some(Missing::Otherwise), Some(can));
    let error = retires(elsewhere, " ").await.expect_err("where");
    assert!(matches!(&error, WriteError::Refused(errors) if errors.of("remark").is_some()), "{error:?}");
    let spilled = retiring(fixer.id, 1_500_000, Some(Missing::Spilled), Some(can));
    retires(spilled, "the tray tipped").await.expect("retired");
    let entries = lab.entries().await;
    let spill = entries.iter().find(|entry| entry.kind == MovementKind::Spill).expect("a spill");
    assert_eq!(spill.amount.volume_ul, before.volume_ul - 1_500_000);
    assert_eq!(spill.amount.silver, before.part(spill.amount.volume_ul).expect("a part").silver);
    assert!(spill.remark.contains("what was missing: spilled; the tray tipped"), "{}", spill.remark);
    lab.is_right().await;
    // taken back, all of it is there again
    lab.takes_back_last(MovementKind::Retiring).await.expect("taken back");
    assert_eq!(lab.holds(&fixer).await, before);
    lab.is_right().await;
}

#[tokio::test]
async fn a_developer_may_lack_what_its_sheets_carried_off() {
    let lab = Darkroom::new().await;
    let developer = lab.mixes(ProductKind::Developer, 1).await;
    lab.sets_in(Slot::Developer, &developer).await;
    let can = lab.sets_up(Contents::Developer, Amount::NOTHING).await;
    // 150 sheets of 12,903 mm² at 35 mL/m²: 67.7 mL, and 50 mL of slack
    lab.puts_through(lab.four_by_five(150)).await.expect("recorded");
    let (occasion, of) = (lab.occasion(""), retiring(developer.id, 890_000, None, Some(can)));
    lab.does(move |tx| Box::pin(async move { movements::retire(tx, &occasion, &of).await })).await.expect("retired");
    lab.is_right().await;
}

/// Reads a vessel as it was at a moment.
async fn reads_at(lab: &Darkroom, vessel: Vessel, at: Instant, ug_per_l: i64) {
    let occasion = movements::Occasion { happened_at: at, ..lab.occasion("") };
    let (id, silver) = (lab.app.state.mint(), book::Silver::exactly(ug_per_l));
    lab.does(move |tx| {
        Box::pin(async move { movements::read_silver(tx, &occasion, id, vessel, Method::Laboratory, silver).await })
    })
    .await
    .expect("read");
}

#[tokio::test]
async fn a_reading_of_this_morning_leaves_the_silver_that_came_in_since() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    lab.puts_through(lab.four_by_five(10)).await.expect("recorded");
    let morning = lab.now().plus_minutes(10);
    lab.app.state.world.clock.forward_minutes(60);
    let evening = lab.puts_through(lab.four_by_five(20)).await.expect("recorded");
    let booked = lab.holds(&fixer).await;
    // the laboratory found 0.1 g/L where the book had 0.125
    reads_at(&lab, Vessel::Batch(fixer.id), morning, 100_000).await;
    let after = lab.holds(&fixer).await;
    assert!(after.silver.best_ug > 320_000, "the evening's quarter of a gram is still there: {after:?}");
    assert!((booked.silver.best_ug - after.silver.best_ug - 25_000).abs() < 1_000, "{booked:?} {after:?}");
    // the evening's sheets are newer than the reading: they are taken back without it
    lab.takes_back(evening).await.expect("taken back");
    let back = lab.holds(&fixer).await.silver.best_ug;
    assert!((back - 100_000).abs() < 1_500, "{back}");
    lab.is_right().await;
}

#[tokio::test]
async fn sheets_whose_container_has_left_wait_in_sight_until_somebody_decides() {
    let lab = Darkroom::new().await;
    let fixer = lab.mixes(ProductKind::Fixer, 1).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    let late: Vec<_> = (0..3).map(|_| lab.four_by_five(2)).collect();
    lab.app.state.world.clock.forward_minutes(5);
    let spill = lab.occasion("the bottle broke");
    let vessel = Vessel::Batch(fixer.id);
    lab.does(move |tx| Box::pin(async move { movements::write_off(tx, &spill, vessel, Loss::Spill, 1_000_000).await }))
        .await
        .expect("all of it");
    let (occasion, gone) = (lab.occasion(""), nothing_left(fixer.id));
    lab.does(move |tx| Box::pin(async move { movements::retire(tx, &occasion, &gone).await })).await.expect("retired");
    let can = lab.sets_up(Contents::SpentFixer, Amount::NOTHING).await;
    let mut runs = Vec::new();
    for run in late {
        runs.push(lab.puts_through(run).await.expect("kept"));
    }
    let waiting = async || {
        let mut conn = lab.app.state.store.read().await.expect("a reader");
        sheet_runs::list_waiting(&mut conn).await.expect("runs").len()
    };
    assert_eq!(waiting().await, 3, "none is lost");
    for (run, decision) in
        runs.iter().zip([Decision::WentWithContainer, Decision::FoundByReading, Decision::BookedInto(can)])
    {
        let (actor, id, now, run) = (lab.actor, lab.app.state.mint(), lab.now(), *run);
        lab.does(move |tx| Box::pin(async move { sheet_runs::decide(tx, actor, run, id, decision, now).await }))
            .await
            .expect("decided");
    }
    assert_eq!(waiting().await, 0);
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    let there = store::book::balance(&mut conn, Vessel::Container(can)).await.expect("a balance");
    drop(conn);
    // 2 × 12,903 mm² × 0.97 g/m²
    assert_eq!(there.silver.best_ug, 25_032, "{there:?}");
    lab.is_right().await;
    // what was booked by decision is taken back like any sheet
    lab.takes_back(runs[2]).await.expect("taken back");
    lab.is_right().await;
}

#[tokio::test]
async fn what_was_mixed_stays_mixed_through_any_number_of_pours() {
    let lab = Darkroom::new().await;
    let (developer, fixer) = (lab.mixes(ProductKind::Developer, 1).await, lab.mixes(ProductKind::Fixer, 1).await);
    let mut cans = Vec::new();
    for _ in 0..3 {
        cans.push(lab.sets_up(Contents::Mixed, Amount::NOTHING).await);
    }
    let pours = async |from: Vessel, into: ContainerId, although: &'static str| {
        let occasion = lab.occasion("");
        lab.does(move |tx| Box::pin(async move { movements::pour(tx, &occasion, from, into, 100_000, although).await }))
            .await
    };
    let can = |index: usize| Vessel::Container(cans[index]);
    // developer goes through two containers called mixed, and is still developer
    pours(Vessel::Batch(developer.id), cans[0], "").await.expect("into an empty one");
    pours(can(0), cans[1], "").await.expect("into an empty one");
    pours(can(1), cans[2], "").await.expect("into an empty one");
    let said = pours(Vessel::Batch(fixer.id), cans[2], "").await.expect_err("fixer meets developer");
    assert!(matches!(&said, WriteError::Refused(errors) if errors.of("into").is_some_and(|it| it.contains("sulphur"))));
    // what went into the first one after the pour is not in the second
    pours(Vessel::Batch(fixer.id), cans[0], "safety office, letter of 3 March").await.expect("with a reason");
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    let held = store::waste::containers::list_held(&mut conn, cans[1]).await.expect("read");
    assert_eq!(held, [shimlight::domain::waste::held::Held::Bath(ProductKind::Developer)]);
    drop(conn);
    // the first rinse is judged by the same rule
    let occasion = lab.occasion("");
    let into = cans[1];
    let said = lab
        .does(move |tx| Box::pin(async move { movements::collect_rinse(tx, &occasion, into, 1_000, None, "").await }))
        .await
        .expect_err("rinse meets developer");
    assert!(
        matches!(&said, WriteError::Refused(errors) if errors.of("although").is_some_and(|it| it.contains("sulphur"))),
        "{said:?}"
    );
    lab.is_right().await;
}
