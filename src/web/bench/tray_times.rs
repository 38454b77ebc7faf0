//! How long a sheet stays in each tray of the session's line, from the cards of what stands in them.

use sqlx::SqliteConnection;

use crate::domain::marking::own_figure::Reveals;
use crate::{
    calc::working::seconds_text,
    domain::{
        baths::{
            batch::{Batch, Slot, Stay},
            tray_times::{in_tray, wash},
        },
        ids::TrayLineId,
        instant::Instant,
        stock::{paper::PaperBase, product::Times},
    },
    store::{
        baths::{batches, tray_slots},
        stock::products,
    },
    web::kit::{error::WebError, reading::Reading},
};

/// The temperature at which labels give their times, where the developer's card names none: 20 °C.
const USUAL_MILLI_C: i64 = 20_000;

/// What is said where a card gives no time.
const NOT_GIVEN: &str = "not given";

/// The trays of a line, in the order a sheet passes them, and the wash.
#[derive(Debug)]
pub struct TrayTimes {
    /// Each tray with something in it.
    pub trays: Vec<TrayTime>,
    /// How long it is washed.
    pub wash: &'static str,
    /// Where that is from.
    pub wash_why: &'static str,
    /// The temperature that the developer's time holds at, thousandths of a degree Celsius.
    pub milli_c: i64,
}

/// One tray.
#[derive(Debug)]
pub struct TrayTime {
    /// Which.
    pub slot: Slot,
    /// What stands in it.
    pub batch: Batch,
    /// How long, in words.
    pub time: String,
    /// How that comes about.
    pub why: String,
}

impl TrayTimes {
    /// Looks them up for sheets of a base. Without a temperature the developer's label decides.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn load(
        conn: &mut SqliteConnection,
        line: TrayLineId,
        base: PaperBase,
        milli_c: Option<i64>,
        now: Instant,
    ) -> Result<Self, WebError> {
        let mut standing: Vec<(Stay, Batch, Times)> = Vec::new();
        for stay in tray_slots::list_standing(conn, line, now).await? {
            let Some(batch) = batches::find(conn, stay.batch).await? else { continue };
            let times = products::find(conn, batch.product).await?.map_or(Times::NONE, |product| product.times);
            standing.push((stay, batch, times));
        }
        let labelled = standing.iter().find(|(stay, ..)| stay.slot == Slot::Developer);
        let milli_c = milli_c.or(labelled.and_then(|(_, _, times)| times.at_milli_c)).unwrap_or(USUAL_MILLI_C);
        let aided = standing.iter().any(|(stay, ..)| stay.slot == Slot::WashingAid);
        let (wash, wash_why) = wash(base, aided);
        let trays = standing
            .into_iter()
            .map(|(stay, batch, times)| {
                let stays = in_tray(stay.slot, &times, base, milli_c);
                let time = stays.seconds.map_or_else(|| NOT_GIVEN.to_owned(), seconds_text);
                TrayTime { slot: stay.slot, batch, time, why: stays.why }
            })
            .collect();
        Ok(Self { trays, wash, wash_why, milli_c })
    }

    /// How long in the developer, in words; empty where none stands there or its card does not say.
    pub fn developer(&self) -> String {
        let tray = self.trays.iter().find(|tray| tray.slot == Slot::Developer && tray.time != NOT_GIVEN);
        tray.map_or_else(String::new, |tray| tray.time.clone())
    }

    /// As the large numbers of a page.
    pub fn readings(&self) -> Vec<Reading> {
        let named = |slot: Slot| {
            let (first, rest) = slot.as_str().split_at(1);
            format!("{}{rest}", first.to_uppercase())
        };
        let tray = |tray: &TrayTime| {
            Reading::plain(&named(tray.slot), tray.time.clone(), Reveals::NOTHING).remark(tray.why.clone())
        };
        let mut readings: Vec<Reading> = self.trays.iter().map(tray).collect();
        if !readings.is_empty() {
            readings.push(Reading::plain("Wash", self.wash, Reveals::NOTHING).remark(self.wash_why));
        }
        readings
    }
}
