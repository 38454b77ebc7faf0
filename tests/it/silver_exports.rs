//! The files about silver: exactly their columns, numbers as numbers, and laws that add up from the
//! file alone.

use std::collections::HashMap;

use shimlight::{
    domain::{
        baths::batch::Slot,
        book::{Amount, Silver, Vessel},
        ids::ContainerId,
        site::site_rule::{Asks, RuleClock, SiteRule, Span},
        stock::product::ProductKind,
        waste::{
            container::{Container, Contents, Life},
            opening::{Opening, OpeningSilver},
            reading::Method,
            removal::Removal,
        },
    },
    export,
    store::{
        self,
        book::{
            movements::{self, Loss, Retiring},
            reversals,
        },
    },
};

use crate::darkroom::Darkroom;

/// A file read by another's reader: header, and rows by column.
fn read(bytes: &[u8]) -> (Vec<String>, Vec<HashMap<String, String>>) {
    assert!(bytes.ends_with(b"\r\n"), "rows end with CRLF");
    let mut reader = csv::ReaderBuilder::new().flexible(false).from_reader(bytes);
    let header: Vec<String> = reader.headers().expect("a header").iter().map(str::to_owned).collect();
    let rows = reader
        .records()
        .map(|record| {
            let record = record.expect("as many cells as columns");
            header.iter().cloned().zip(record.iter().map(str::to_owned)).collect()
        })
        .collect();
    (header, rows)
}

impl Darkroom {
    pub async fn sets_up(&self, contents: Contents, already: Amount) -> ContainerId {
        let container = Container {
            id: self.app.state.mint(),
            site: self.evening.site,
            label_number: 0,
            contents,
            hazards: "irritant".to_owned(),
            place: "=under the bench".to_owned(),
            capacity_ul: 20_000_000,
            life: Life::NEW,
            first_drop_at: None,
            version: 1,
        };
        let stated = Opening { volume_ul: already.volume_ul, silver: OpeningSilver::Stated(already.silver) };
        let already = (!already.is_nothing()).then_some(stated);
        let (occasion, id) = (self.occasion(""), container.id);
        self.does(move |tx| {
            Box::pin(async move { movements::set_up(tx, &occasion, &container, already).await.map(drop) })
        })
        .await
        .expect("set up");
        id
    }

    pub async fn retires(&self, batch: &shimlight::domain::baths::batch::Batch, measured_ul: i64, into: ContainerId) {
        let (occasion, id) = (self.occasion(""), batch.id);
        let mut conn = self.app.state.store.read().await.expect("a reader");
        let version = store::baths::batches::find(&mut conn, id).await.expect("read").expect("there").version;
        drop(conn);
        let retiring =
            Retiring { batch: id, version, measured_ul, missing: None, into: Some(into), although: String::new() };
        self.does(move |tx| Box::pin(async move { movements::retire(tx, &occasion, &retiring).await }))
            .await
            .expect("retired");
    }
}

/// An evening, its clearing up, a spill with a hostile remark, a mistake taken back, a removal.
async fn a_month() -> Darkroom {
    let lab = Darkroom::new().await;
    let site = lab.evening.site;
    let rule = SiteRule {
        id: lab.app.state.mint(),
        site,
        asks: Asks::GoneWithin { clock: RuleClock::FirstDrop, span: Span::Days(180) },
        or_next_visit: false,
        source: "safety office".to_owned(),
        entered_at: lab.now(),
    };
    let by = lab.actor.person().expect("staff");
    lab.does(move |tx| Box::pin(async move { Ok(store::site::site_rules::insert(tx, &rule, by).await?) }))
        .await
        .expect("a rule");
    let fixer = lab.mixes(ProductKind::Fixer, 4).await;
    lab.sets_in(Slot::Fixer, &fixer).await;
    for _ in 0..6 {
        lab.puts_through(lab.four_by_five(8)).await.expect("recorded");
    }
    let slip = lab.puts_through(lab.four_by_five(30)).await.expect("recorded");
    lab.takes_back(slip).await.expect("taken back");
    let vessel = Vessel::Batch(fixer.id);
    let (occasion, reading) = (lab.occasion("strip 2"), lab.app.state.mint());
    let silver = Silver { best_ug: 200_000, low_ug: 150_000, high_ug: 250_000 };
    lab.does(move |tx| {
        Box::pin(async move {
            movements::read_silver(tx, &occasion, reading, vessel, Method::EstimatingPaper, silver).await
        })
    })
    .await
    .expect("read");
    let occasion = lab.occasion("=HYPERLINK(\"http://x\") \"wet\",\nfloor");
    lab.does(move |tx| {
        Box::pin(async move { movements::write_off(tx, &occasion, vessel, Loss::Spill, 123_457).await })
    })
    .await
    .expect("written off");
    let stated = Amount { volume_ul: 2_000_000, silver: Silver { best_ug: 900_000, low_ug: 0, high_ug: 3_000_000 } };
    let can = lab.sets_up(Contents::SpentFixer, stated).await;
    lab.retires(&fixer, 3_700_000, can).await;
    // taken back and retired again with a better measurement
    let retiring = lab.entries().await.last().expect("an entry").movement;
    let (actor, id, now) = (lab.actor, lab.app.state.mint(), lab.now());
    lab.does(move |tx| {
        Box::pin(async move { reversals::reverse(tx, actor, retiring, id, now, "misread the graduate").await })
    })
    .await
    .expect("taken back");
    lab.retires(&fixer, 3_750_000, can).await;
    lab.app.state.world.clock.forward_minutes(60 * 24 * 30);
    let occasion = lab.occasion("");
    let removal = Removal {
        id: lab.app.state.mint(),
        movement: occasion.movement,
        container: can,
        carrier: "Fell & Daughters (invented)".to_owned(),
        destination: "Silver works, dock 4 (invented)".to_owned(),
        reference: "FD-2026-118".to_owned(),
        mass_g: Some(6_250),
        removed_at: occasion.happened_at,
        to_reclaim_silver: false,
        copy_returned_on: None,
        undone_at: None,
        version: 1,
    };
    lab.does(move |tx| Box::pin(async move { movements::remove(tx, &occasion, 1, &removal).await }))
        .await
        .expect("removed");
    lab
}

async fn files(lab: &Darkroom) -> [Vec<u8>; 3] {
    let mut conn = lab.app.state.store.read().await.expect("a reader");
    [
        export::silver_book::bytes(&mut conn).await.expect("the book"),
        export::disposal_log::bytes(&mut conn).await.expect("the log"),
        export::chemistry::bytes(&mut conn).await.expect("the batches"),
    ]
}

#[tokio::test]
async fn the_files_have_exactly_the_columns_that_were_promised() {
    let lab = a_month().await;
    let [book, log, chemistry] = files(&lab).await;
    assert_eq!(
        read(&book).0.join(","),
        "entry,happened_at,recorded_at,kind,from,from_id,to,to_id,reverses,volume_ul,silver_ug,silver_low_ug,\
         silver_high_ug,basis,recorded_by,remark,act,rests_on"
    );
    assert_eq!(
        read(&log).0.join(","),
        "entry,happened_at,recorded_at,event,from,from_id,to,to_id,contents,volume_ml,mass_kg,sheets,area_m2,\
         silver_mg,silver_low_mg,silver_high_mg,silver_mg_per_l,basis,accumulation_start,remove_by,carrier,\
         destination,reference,copy_returned_at,recorded_by,remark,first_drop_at,full_at,moved_at,remove_by_clock,\
         remove_by_rule,reverses,taken_back_by"
    );
    assert_eq!(
        read(&chemistry).0.join(","),
        "batch,kind,product,parts,volume_ml,mixed_at,mixed_by,state,area_m2,used_share,silver_mg,silver_mg_per_l,\
         retired_at,container"
    );
}

#[tokio::test]
async fn the_laws_add_up_from_the_silver_book_file_alone() {
    let lab = a_month().await;
    let [book, ..] = files(&lab).await;
    let (_, rows) = read(&book);
    const SOURCES: [&str; 4] = ["mixed", "water", "paper", "opening"];
    const SINKS: [&str; 5] = ["wash", "recovered", "removed", "discharged", "written off"];
    let by_entry: HashMap<&str, &HashMap<String, String>> =
        rows.iter().map(|row| (row["entry"].as_str(), row)).collect();
    let mut taken_back = Vec::new();
    for column in ["volume_ul", "silver_ug", "silver_low_ug", "silver_high_ug"] {
        let mut stores: HashMap<(String, String), i64> = HashMap::new();
        let (mut sources, mut sinks) = (0, 0);
        for row in &rows {
            let figure: i64 = row[column].parse().expect("a whole number");
            assert!(figure >= 0, "{row:?}");
            for (account, id, sign) in [("from", "from_id", -1), ("to", "to_id", 1)] {
                match row[account].as_str() {
                    name if SOURCES.contains(&name) => sources -= sign * figure,
                    name if SINKS.contains(&name) => sinks += sign * figure,
                    name => {
                        assert!(["batch", "container"].contains(&name), "{name}");
                        assert!(!row[id].is_empty(), "a store has its number: {row:?}");
                        let store = stores.entry((name.to_owned(), row[id].clone())).or_default();
                        *store += sign * figure;
                        assert!(*store >= 0, "{column} of {name} {} below zero at entry {}", row[id], row["entry"]);
                    }
                }
            }
        }
        assert_eq!(sources, stores.values().sum::<i64>() + sinks, "{column}");
        assert!(stores.values().all(|left| *left == 0), "retired and removed: {stores:?}");
    }
    for row in rows.iter().filter(|row| !row["reverses"].is_empty()) {
        let original = by_entry[row["reverses"].as_str()];
        assert_eq!(
            (&row["from"], &row["from_id"], &row["to"]),
            (&original["to"], &original["to_id"], &original["from"])
        );
        assert_eq!((&row["volume_ul"], &row["silver_ug"]), (&original["volume_ul"], &original["silver_ug"]));
        taken_back.push(&row["reverses"]);
    }
    let count = taken_back.len();
    taken_back.sort();
    taken_back.dedup();
    assert_eq!((count, taken_back.len()), (4, 4), "two of the sheets, two of the retiring, each once");
}

#[tokio::test]
async fn a_remark_that_looks_like_a_formula_is_kept_and_harmless() {
    let lab = a_month().await;
    let [book, log, _] = files(&lab).await;
    let (_, rows) = read(&book);
    let spill = rows.iter().find(|row| row["kind"] == "spill").expect("the spill");
    assert_eq!(spill["remark"], "'=HYPERLINK(\"http://x\") \"wet\",\nfloor");
    assert_eq!(spill["recorded_by"], "Otis Brae");
    assert_eq!(spill["happened_at"], "2026-03-20T12:00:00-06:00");
    assert_eq!(spill["basis"], "silver estimating paper");
    let (_, rows) = read(&log);
    assert!(rows.iter().all(|row| row["event"] != "spill"), "it never reached a container");
}

#[tokio::test]
async fn the_disposal_log_follows_a_batch_into_its_container_and_out_of_the_house() {
    let lab = a_month().await;
    let [_, log, chemistry] = files(&lab).await;
    let (_, rows) = read(&log);
    let events: Vec<&str> = rows.iter().map(|row| row["event"].as_str()).collect();
    assert_eq!(events, ["opening", "retiring", "reversal", "retiring", "removal"]);
    let retiring = &rows[3];
    assert_eq!((retiring["from"].as_str(), retiring["from_id"].as_str()), ("batch", "1"));
    assert_eq!((retiring["to_id"].as_str(), retiring["contents"].as_str()), ("1", "spent fixer"));
    assert_eq!((retiring["sheets"].as_str(), retiring["volume_ml"].as_str()), ("48", "3750"));
    assert_eq!(retiring["basis"], "silver estimating paper");
    let removal = &rows[4];
    // 20 March + 180 days is 16 September 2026; the strict day is one earlier
    assert_eq!((removal["accumulation_start"].as_str(), removal["remove_by"].as_str()), ("2026-03-20", "2026-09-15"));
    assert_eq!((removal["mass_kg"].as_str(), removal["volume_ml"].as_str()), ("6.25", "5750"));
    assert_eq!(
        (removal["carrier"].as_str(), removal["reference"].as_str()),
        ("Fell & Daughters (invented)", "FD-2026-118")
    );
    let kept: f64 = removal["silver_mg"].parse().expect("a number");
    let (_, batches) = read(&chemistry);
    assert_eq!((batches[0]["state"].as_str(), batches[0]["container"].as_str()), ("retired", "1"));
    let poured: f64 = batches[0]["silver_mg"].parse().expect("a number");
    assert!((kept - 900.0 - poured).abs() < 1e-6, "{kept} {poured}");
    assert!((poured / 3.75 - batches[0]["silver_mg_per_l"].parse::<f64>().expect("a number")).abs() < 0.001);
}
