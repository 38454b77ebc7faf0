//! Chemical products of the stockroom.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ProductId, SiteId},
    instant::Instant,
    stock::product::{Product, ProductKind, Times},
};

use crate::store::Error;

struct ProductRow {
    id: ProductId,
    site_id: SiteId,
    kind: String,
    name: String,
    parts_concentrate: i64,
    parts_water: i64,
    distilled_water: i64,
    capacity_mm2_per_l: Option<i64>,
    rc_capacity_mm2_per_l: Option<i64>,
    tray_life_ms: Option<i64>,
    bottle_life_ms: Option<i64>,
    silver_limit_ug_per_l: Option<i64>,
    time_rc_ms: Option<i64>,
    time_fibre_ms: Option<i64>,
    time_film_ms: Option<i64>,
    at_milli_c: Option<i64>,
    factor_per_10c_milli: i64,
    on_shelf_ul: Option<i64>,
    hazards: String,
    data_sheet: String,
    figures_from: String,
    version: i64,
}

impl TryFrom<ProductRow> for Product {
    type Error = Error;
    fn try_from(row: ProductRow) -> Result<Self, Error> {
        let kind = ProductKind::from_word(&row.kind).ok_or_else(|| Error::Inconsistent {
            table: "product",
            column: "kind",
            id: row.id.to_string(),
        })?;
        Ok(Self {
            id: row.id,
            site: row.site_id,
            kind,
            name: row.name,
            parts_concentrate: row.parts_concentrate,
            parts_water: row.parts_water,
            distilled_water: row.distilled_water != 0,
            capacity_mm2_per_l: row.capacity_mm2_per_l,
            rc_capacity_mm2_per_l: row.rc_capacity_mm2_per_l,
            tray_life_ms: row.tray_life_ms,
            bottle_life_ms: row.bottle_life_ms,
            silver_limit_ug_per_l: row.silver_limit_ug_per_l,
            times: Times {
                rc_ms: row.time_rc_ms,
                fibre_ms: row.time_fibre_ms,
                film_ms: row.time_film_ms,
                at_milli_c: row.at_milli_c,
                factor_per_10c_milli: row.factor_per_10c_milli,
            },
            on_shelf_ul: row.on_shelf_ul,
            hazards: row.hazards,
            data_sheet: row.data_sheet,
            figures_from: row.figures_from,
            version: row.version,
        })
    }
}

/// Products that a condition names, in an order.
macro_rules! products {
    ($how:ident, $conn:expr, $condition:tt $(, $bound:expr)*) => {
        sqlx::query_as!(
            ProductRow,
            "SELECT id, site_id, kind, name, parts_concentrate, parts_water, distilled_water, capacity_mm2_per_l,
                    rc_capacity_mm2_per_l, tray_life_ms, bottle_life_ms, silver_limit_ug_per_l, time_rc_ms,
                    time_fibre_ms, time_film_ms, at_milli_c, factor_per_10c_milli, on_shelf_ul, hazards, data_sheet,
                    figures_from, version
             FROM product " + $condition
            $(, $bound)*
        )
        .$how($conn)
        .await?
    };
}

/// One product, put away or not.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: ProductId) -> Result<Option<Product>, Error> {
    products!(fetch_optional, conn, "WHERE id = ?", id).map(Product::try_from).transpose()
}

/// The products on the shelf, in the order of the trays.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Product>, Error> {
    products!(
        fetch_all,
        conn,
        "WHERE put_away_at IS NULL
         ORDER BY CASE kind WHEN 'developer' THEN 1 WHEN 'stop bath' THEN 2 WHEN 'fixer' THEN 3
                            WHEN 'washing aid' THEN 4 ELSE 5 END, name, id"
    )
    .into_iter()
    .map(Product::try_from)
    .collect()
}

/// The products put away, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_put_away(conn: &mut SqliteConnection) -> Result<Vec<Product>, Error> {
    products!(fetch_all, conn, "WHERE put_away_at IS NOT NULL ORDER BY name, id")
        .into_iter()
        .map(Product::try_from)
        .collect()
}

/// Stores a new product.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, product: &Product) -> Result<(), Error> {
    let kind = product.kind.as_str();
    sqlx::query!(
        "INSERT INTO product (id, site_id, kind, name, parts_concentrate, parts_water, distilled_water,
             capacity_mm2_per_l, rc_capacity_mm2_per_l, tray_life_ms, bottle_life_ms, silver_limit_ug_per_l,
             time_rc_ms, time_fibre_ms, time_film_ms, at_milli_c, factor_per_10c_milli, on_shelf_ul, hazards,
             data_sheet, figures_from)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        product.id,
        product.site,
        kind,
        product.name,
        product.parts_concentrate,
        product.parts_water,
        product.distilled_water,
        product.capacity_mm2_per_l,
        product.rc_capacity_mm2_per_l,
        product.tray_life_ms,
        product.bottle_life_ms,
        product.silver_limit_ug_per_l,
        product.times.rc_ms,
        product.times.fibre_ms,
        product.times.film_ms,
        product.times.at_milli_c,
        product.times.factor_per_10c_milli,
        product.on_shelf_ul,
        product.hazards,
        product.data_sheet,
        product.figures_from
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores an edited product if its version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, product: &Product) -> Result<bool, Error> {
    let kind = product.kind.as_str();
    let done = sqlx::query!(
        "UPDATE product SET kind = ?, name = ?, parts_concentrate = ?, parts_water = ?, distilled_water = ?,
             capacity_mm2_per_l = ?, rc_capacity_mm2_per_l = ?, tray_life_ms = ?, bottle_life_ms = ?,
             silver_limit_ug_per_l = ?, time_rc_ms = ?, time_fibre_ms = ?, time_film_ms = ?, at_milli_c = ?,
             factor_per_10c_milli = ?, on_shelf_ul = ?, hazards = ?, data_sheet = ?, figures_from = ?,
             version = version + 1
         WHERE id = ? AND version = ?",
        kind,
        product.name,
        product.parts_concentrate,
        product.parts_water,
        product.distilled_water,
        product.capacity_mm2_per_l,
        product.rc_capacity_mm2_per_l,
        product.tray_life_ms,
        product.bottle_life_ms,
        product.silver_limit_ug_per_l,
        product.times.rc_ms,
        product.times.fibre_ms,
        product.times.film_ms,
        product.times.at_milli_c,
        product.times.factor_per_10c_milli,
        product.on_shelf_ul,
        product.hazards,
        product.data_sheet,
        product.figures_from,
        product.id,
        product.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Takes concentrate off what was counted on the shelf, down to nothing. Where nobody counted, nothing is known
/// and nothing changes.
///
/// # Errors
/// When the database cannot be used.
pub async fn take_off_shelf(tx: &mut SqliteConnection, id: ProductId, microlitres: i64) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE product SET on_shelf_ul = max(0, on_shelf_ul - ?), version = version + 1
         WHERE id = ? AND on_shelf_ul IS NOT NULL",
        microlitres,
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Gives concentrate back to the shelf: it was not used after all.
///
/// # Errors
/// When the database cannot be used.
pub async fn give_back_to_shelf(tx: &mut SqliteConnection, id: ProductId, microlitres: i64) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE product SET on_shelf_ul = min(1000000000, on_shelf_ul + ?), version = version + 1
         WHERE id = ? AND on_shelf_ul IS NOT NULL",
        microlitres,
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Puts a product away: no longer offered, still named by records.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_away(tx: &mut SqliteConnection, id: ProductId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE product SET put_away_at = ?, version = version + 1 WHERE id = ?", at, id).execute(tx).await?;
    Ok(())
}

/// Puts a product back on the shelf.
///
/// # Errors
/// When the database cannot be used.
pub async fn take_out(tx: &mut SqliteConnection, id: ProductId) -> Result<(), Error> {
    sqlx::query!("UPDATE product SET put_away_at = NULL, version = version + 1 WHERE id = ?", id).execute(tx).await?;
    Ok(())
}
