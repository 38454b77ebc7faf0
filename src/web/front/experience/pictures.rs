//! The pictures of sheets: forecast against made, by sky and by the camera's shape.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::{
    calc::light::sky::Sky,
    domain::{
        camera::{Build, Camera},
        exposure::{Exposure, found_light::FoundLight},
        ids::CameraId,
    },
    drawing::forecast_made::{ForecastMade, Sheet},
    store::{Error, camera::cameras},
};

/// Groups of light, each with a sign of its own.
const LIGHTS: [&str; 5] =
    ["in sun", "under cloud", "in open shade", "by the sun’s height, or low sun", "by meter reading"];

/// Both pictures.
#[derive(Debug)]
pub struct Pictures {
    /// By sky.
    pub by_sky: ForecastMade,
    /// By the camera's shape.
    pub by_shape: ForecastMade,
}

/// The cameras that these sheets were made with.
///
/// # Errors
/// When the database cannot be used.
pub async fn cameras_of(conn: &mut SqliteConnection, sheets: &[Exposure]) -> Result<HashMap<CameraId, Camera>, Error> {
    let mut known = HashMap::new();
    for sheet in sheets {
        if !known.contains_key(&sheet.camera)
            && let Some(camera) = cameras::find(conn, sheet.camera).await?
        {
            known.insert(sheet.camera, camera);
        }
    }
    Ok(known)
}

impl Pictures {
    /// Draws them.
    pub fn of(sheets: &[Exposure], cameras: &HashMap<CameraId, Camera>) -> Self {
        let drawn = |group: &dyn Fn(&Exposure) -> usize| -> Vec<Sheet> {
            sheets
                .iter()
                .map(|exposure| Sheet {
                    forecast_s: exposure.forecast_ms as f64 / 1000.0,
                    made_s: exposure.made_ms as f64 / 1000.0,
                    right_s: exposure.right_time().filter(|_| exposure.teaches()).map(|time| time.as_s()),
                    group: group(exposure),
                })
                .collect()
        };
        let shapes: Vec<&str> = Build::ALL.into_iter().map(Build::as_str).collect();
        let shape = |exposure: &Exposure| {
            let build = cameras.get(&exposure.camera).map_or(Build::Box, Camera::build);
            Build::ALL.into_iter().position(|known| known == build).unwrap_or(0)
        };
        Self {
            by_sky: ForecastMade::of("by-sky", "Forecast against made, by sky", &LIGHTS, &drawn(&light_group)),
            by_shape: ForecastMade::of("by-shape", "Forecast against made, by camera", &shapes, &drawn(&shape)),
        }
    }
}

fn light_group(exposure: &Exposure) -> usize {
    use crate::calc::light::sky::SunFrom;
    match FoundLight::parse_words(&exposure.light_typed) {
        Some(FoundLight::Sky(sky, sun)) => match sky {
            Sky::SandOrSnow | Sky::FullSun | Sky::HazySun if sun == SunFrom::Shade => 2,
            Sky::SandOrSnow | Sky::FullSun | Sky::HazySun => 0,
            Sky::CloudyBright | Sky::HeavyOvercast => 1,
            Sky::OpenShade => 2,
            Sky::BeforeSunset | Sky::Sunset => 3,
        },
        Some(FoundLight::Sun(_)) => 3,
        _ => 4,
    }
}
