//! Registering a camera: it gets the next number of its section.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::{Body, Camera, Typed},
        ids::{CameraId, SectionId},
        instant::Instant,
        people::actor::Actor,
    },
    store::{WriteError, camera::cameras, people::change_log},
};

/// A camera that has no number yet.
#[derive(Clone, Debug)]
pub struct NewCamera {
    /// Its id.
    pub id: CameraId,
    /// The section.
    pub section: SectionId,
    /// What it is built from.
    pub body: Body,
    /// How far away it is meant to look.
    pub subject: Option<Typed>,
    /// Anything else.
    pub remark: String,
}

/// Where a camera is registered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Registered {
    /// By its maker at the bench.
    AtBench,
    /// By staff, from the card it stood on.
    FromCard,
    /// By staff, as the front bench's own.
    AtFrontBench,
}

/// Registers a camera. Nobody has it yet.
///
/// # Errors
/// When the database cannot be used.
pub async fn register(
    tx: &mut SqliteConnection,
    new: NewCamera,
    how: Registered,
    actor: Actor,
    at: Instant,
) -> Result<Camera, WriteError> {
    let NewCamera { id, section, body, subject, remark } = new;
    let number = cameras::next_number(tx, section).await?;
    let camera = Camera { id, section, number, body, subject, remark, created_at: at, version: 1 };
    cameras::insert(tx, &camera).await?;
    let detail = match how {
        Registered::AtBench => in_short(&camera),
        Registered::FromCard => format!("{}, from a card", in_short(&camera)),
        Registered::AtFrontBench => format!("camera {number}, of the front bench"),
    };
    change_log::insert(tx, at, actor, "camera registered", "camera", id, &detail).await?;
    Ok(camera)
}

/// A camera in the change log: `camera 3, box`.
pub fn in_short(camera: &Camera) -> String {
    format!("camera {}, {}", camera.number, camera.build().as_str())
}
