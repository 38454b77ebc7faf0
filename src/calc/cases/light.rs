//! Definitions: sun, daylight, exposure, paper, reciprocity, experience.

use super::definition::{Definition, Input, Kind, Refusal, Values, number, of};
use super::given::{Given, Item};
use crate::calc::light::daylight::{
    CloudCover, SOLAR_CONSTANT_KLX, SolarAltitude, SolarConstant, daylight, daylight_working,
};
use crate::calc::light::experience::{Judged, Observation, Spread, experience};
use crate::calc::light::exposure;
use crate::calc::light::paper::{paper_index, paper_index_working, paper_range, paper_range_working};
use crate::calc::light::reciprocity::{Reciprocity, Trial, reciprocity_fit, reciprocity_fit_working};
use crate::calc::light::sun::{
    AirPressure, AirTemperature, DeltaT, Latitude, Longitude, Place, SiteElevation, TEMPERATURE_C, standard_pressure,
    sun_position, sun_position_working,
};
use crate::calc::quantity::{
    DaylightFactor, Ev100, ExposureIndex, ExposureTime, FNumber, Illuminance, IsoPaperSpeed, Luminance, MeterConstantC,
    MeterConstantK, PaperLogExposure, ReciprocityExponent, ReciprocityThreshold, Reflectance, Seconds,
};

pub fn definitions() -> Vec<Definition> {
    let mut all = sky();
    all.extend(exposures());
    all.extend(papers());
    all.extend(reciprocities());
    all.push(experiences());
    all
}

fn sky() -> Vec<Definition> {
    vec![
        Definition::new("sun_position", &["zenith_deg", "azimuth_deg", "altitude_deg"], |g| {
            let elevation = g.get("elevation_m")?;
            let place = Place {
                latitude: g.get("latitude_deg")?,
                longitude: g.get("longitude_deg")?,
                elevation,
                pressure: g.find("pressure_hpa")?.unwrap_or_else(|| standard_pressure(elevation)),
                temperature: g.get("temperature_c")?,
            };
            let (time, delta_t) = (g.moment("time")?, g.find("delta_t_s")?);
            let outside = |error| Refusal::of("time", error);
            let sun = sun_position(time, place, delta_t).map_err(outside)?;
            Ok(Values::new()
                .with("zenith_deg", sun.zenith_deg)
                .with("azimuth_deg", sun.azimuth_deg)
                .with("altitude_deg", sun.altitude_deg())
                .with_working(sun_position_working(time, place, delta_t).map_err(outside)?))
        })
        .takes("time", Kind::Moment)
        .takes("latitude_deg", of::<Latitude>())
        .takes("longitude_deg", of::<Longitude>())
        .defaults("elevation_m", of::<SiteElevation>(), Item::Number(0.0))
        .may_take("pressure_hpa", of::<AirPressure>())
        .defaults("temperature_c", of::<AirTemperature>(), Item::Number(TEMPERATURE_C))
        .may_take("delta_t_s", of::<DeltaT>()),
        Definition::new(
            "daylight_illuminance",
            &[
                "extraterrestrial_klx",
                "direct_normal_klx",
                "direct_horizontal_klx",
                "sky_horizontal_klx",
                "total_horizontal_klx",
            ],
            |g| {
                let sky = match g.choice("sky")? {
                    "clear" => CloudCover::Clear,
                    "partly cloudy" => CloudCover::PartlyCloudy,
                    _ => CloudCover::Cloudy,
                };
                // Checked to be at most 366.
                let day = g.whole("day_of_year")? as u16;
                let (altitude, constant) = (g.get("solar_altitude_deg")?, g.get("solar_constant_klx")?);
                let light = daylight(altitude, day, sky, constant);
                Ok(Values::new()
                    .with("extraterrestrial_klx", light.extraterrestrial_klx)
                    .with("direct_normal_klx", light.direct_normal_klx)
                    .with("direct_horizontal_klx", light.direct_horizontal_klx)
                    .with("sky_horizontal_klx", light.sky_horizontal_klx)
                    .with("total_horizontal_klx", light.total_horizontal_klx())
                    .with_working(daylight_working(altitude, day, sky, constant)))
            },
        )
        .takes("solar_altitude_deg", of::<SolarAltitude>())
        .takes("day_of_year", Kind::Whole { min: 1, max: 366 })
        .takes("sky", Kind::Choice(&["clear", "partly cloudy", "cloudy"]))
        .defaults("solar_constant_klx", of::<SolarConstant>(), Item::Number(SOLAR_CONSTANT_KLX)),
    ]
}

const K: Item = Item::Number(exposure::METER_CONSTANT_K);
const C: Item = Item::Number(exposure::METER_CONSTANT_C);

fn exposures() -> Vec<Definition> {
    vec![
        Definition::new("light_value", &["ev100"], |g| {
            let (ev, working) = if g.has("luminance_cd_m2") {
                let (luminance, k) = (g.get("luminance_cd_m2")?, g.get("meter_constant_k")?);
                (
                    exposure::light_value_of_luminance(luminance, k),
                    exposure::light_value_of_luminance_working(luminance, k),
                )
            } else {
                let (illuminance, c) = (g.get("illuminance_lx")?, g.get("meter_constant_c")?);
                (
                    exposure::light_value_of_illuminance(illuminance, c),
                    exposure::light_value_of_illuminance_working(illuminance, c),
                )
            };
            Ok(Values::new().with("ev100", ev.as_ev()).with_working(working))
        })
        .takes("luminance_cd_m2", of::<Luminance>())
        .defaults("meter_constant_k", of::<MeterConstantK>(), K)
        .takes("illuminance_lx", of::<Illuminance>())
        .defaults("meter_constant_c", of::<MeterConstantC>(), C)
        .either(&[&["luminance_cd_m2", "meter_constant_k"], &["illuminance_lx", "meter_constant_c"]]),
        Definition::new("exposure_value", &["ev"], |g| {
            let (n, time) = (g.get("f_number")?, g.get::<ExposureTime>("time_s")?);
            Ok(Values::new()
                .with("ev", exposure::exposure_value(n, time))
                .with_working(exposure::exposure_value_working(n, time)))
        })
        .takes("f_number", of::<FNumber>())
        .takes("time_s", of::<ExposureTime>()),
        Definition::new("exposure_time", &["time_s", "ev100"], |g| {
            let light: Ev100 = if g.has("ev100") { g.get("ev100")? } else { light_of_illuminance(g)? };
            let (n, index) = (g.get("f_number")?, g.get("exposure_index")?);
            Ok(Values::new()
                .with("time_s", exposure::exposure_time(n, index, light).as_s())
                .with("ev100", light.as_ev())
                .with_working(exposure::exposure_time_working(n, index, light)))
        })
        .takes("f_number", of::<FNumber>())
        .takes("exposure_index", of::<ExposureIndex>())
        .takes("ev100", of::<Ev100>())
        .takes("illuminance_lx", of::<Illuminance>())
        .defaults("meter_constant_c", of::<MeterConstantC>(), C)
        .either(&[&["ev100"], &["illuminance_lx", "meter_constant_c"]]),
        Definition::new("subject_luminance", &["luminance_cd_m2"], |g| {
            let (illuminance, reflectance) = (g.get("illuminance_lx")?, g.get("reflectance")?);
            Ok(Values::new()
                .with("luminance_cd_m2", exposure::subject_luminance_cd_m2(illuminance, reflectance))
                .with_working(exposure::subject_luminance_working(illuminance, reflectance)))
        })
        .takes("illuminance_lx", of::<Illuminance>())
        .takes("reflectance", of::<Reflectance>()),
        Definition::new("film_exposure", &["exposure_lx_s"], |g| {
            let time = g.get::<ExposureTime>("time_s")?;
            let (luminance, n) = (g.get("luminance_cd_m2")?, g.get("f_number")?);
            Ok(Values::new()
                .with("exposure_lx_s", exposure::film_exposure_lx_s(luminance, n, time))
                .with_working(exposure::film_exposure_working(luminance, n, time)))
        })
        .takes("luminance_cd_m2", of::<Luminance>())
        .takes("f_number", of::<FNumber>())
        .takes("time_s", of::<ExposureTime>()),
        Definition::new("lens_free_gain", &["q_lens", "q_hole", "gain_stops"], |g| {
            let (transmittance, vignetting) = (g.number("lens_transmittance")?, g.number("vignetting")?);
            let angle = g.number("axis_angle_deg")?;
            let q = exposure::lens_q(transmittance, vignetting, angle);
            Ok(Values::new()
                .with("q_lens", q)
                .with("q_hole", std::f64::consts::FRAC_PI_4)
                .with("gain_stops", exposure::lens_free_gain_stops(q))
                .with_working(exposure::lens_free_gain_working(transmittance, vignetting, angle)))
        })
        .takes("lens_transmittance", number(0.01, 1.0, ""))
        .takes("vignetting", number(0.01, 1.0, ""))
        .takes("axis_angle_deg", number(0.0, 80.0, "°")),
        Definition::new("time_for_stops", &["time_s"], |g| {
            let (time, stops) = (Seconds::from(g.get::<ExposureTime>("time_s")?), g.number("stops")?);
            Ok(Values::new()
                .with("time_s", time.with_stops(stops).as_s())
                .with_working(exposure::time_for_stops_working(time, stops)))
        })
        .takes("time_s", of::<ExposureTime>())
        .takes("stops", number(-30.0, 30.0, "stops")),
    ]
}

fn light_of_illuminance(g: &Given) -> Result<Ev100, Refusal> {
    Ok(exposure::light_value_of_illuminance(g.get("illuminance_lx")?, g.get("meter_constant_c")?))
}

fn papers() -> Vec<Definition> {
    vec![
        Definition::new(
            "paper_index",
            &["midtone_exposure_lx_s", "exposure_index_tungsten", "exposure_index_daylight"],
            |g| {
                let (speed, factor) = (g.get("iso_paper_speed")?, g.get("daylight_factor")?);
                let index = paper_index(speed, factor);
                Ok(Values::new()
                    .with("midtone_exposure_lx_s", index.midtone_exposure_lx_s)
                    .with("exposure_index_tungsten", index.tungsten.as_number())
                    .with("exposure_index_daylight", index.daylight.as_number())
                    .with_working(paper_index_working(speed, factor)))
            },
        )
        .takes("iso_paper_speed", of::<IsoPaperSpeed>())
        .defaults("daylight_factor", of::<DaylightFactor>(), Item::Number(1.0)),
        Definition::new("paper_range", &["log_exposure_range", "iso_range"], |g| {
            let (shadow, highlight) = (g.get("log_h_shadow")?, g.get("log_h_highlight")?);
            let none = |error| Refusal::of("log_h_highlight", error);
            let range = paper_range(shadow, highlight).map_err(none)?;
            Ok(Values::new()
                .with("log_exposure_range", range.log_exposure_range)
                .with("iso_range", range.iso_range)
                .with_working(paper_range_working(shadow, highlight).map_err(none)?))
        })
        .takes("log_h_shadow", of::<PaperLogExposure>())
        .takes("log_h_highlight", of::<PaperLogExposure>()),
    ]
}

fn rule(g: &Given) -> Result<Reciprocity, Refusal> {
    Ok(Reciprocity::new(g.get("exponent")?, g.get("threshold_s")?))
}

fn reciprocities() -> Vec<Definition> {
    let trial = || {
        vec![
            Input::required("metered_time_s", of::<ExposureTime>()),
            Input::required("good_time_s", of::<ExposureTime>()),
        ]
    };
    vec![
        Definition::new("reciprocity", &["corrected_time_s"], |g| {
            let (rule, metered) = (rule(g)?, g.get::<ExposureTime>("metered_time_s")?);
            Ok(Values::new()
                .with("corrected_time_s", rule.corrected(metered).as_s())
                .with_working(rule.working(metered)))
        })
        .takes("metered_time_s", of::<ExposureTime>())
        .takes("exponent", of::<ReciprocityExponent>())
        .defaults("threshold_s", of::<ReciprocityThreshold>(), Item::Number(1.0)),
        Definition::new("reciprocity_inverse", &["metered_time_s"], |g| {
            let (rule, corrected) = (rule(g)?, g.get::<ExposureTime>("corrected_time_s")?);
            Ok(Values::new()
                .with("metered_time_s", rule.metered(corrected).as_s())
                .with_working(rule.metered_working(corrected)))
        })
        .takes("corrected_time_s", of::<ExposureTime>())
        .takes("exponent", of::<ReciprocityExponent>())
        .defaults("threshold_s", of::<ReciprocityThreshold>(), Item::Number(1.0)),
        Definition::new("reciprocity_fit", &["exponent"], |g| {
            let mut trials = Vec::new();
            for trial in g.records("trials")? {
                trials.push(Trial { metered: trial.get("metered_time_s")?, good: trial.get("good_time_s")? });
            }
            let no_fit = |error| Refusal::of("trials", error);
            let exponent = reciprocity_fit(&trials).map_err(no_fit)?;
            let working = reciprocity_fit_working(&trials).map_err(no_fit)?;
            Ok(Values::new().with("exponent", exponent).with_working(working))
        })
        .takes("trials", Kind::Records { fields: trial(), least: 2 }),
    ]
}

const SD: Kind = number(0.01, 10.0, "stops");

fn experiences() -> Definition {
    let usual = Spread::default();
    let observation = vec![
        Input::required("stops", number(-20.0, 20.0, "stops")),
        Input::required("source", Kind::Choice(&["scan", "eye"])),
        Input::required("session", Kind::Label),
        Input::required("camera", Kind::Label),
    ];
    let asked = vec![Input::required("session", Kind::Label), Input::required("camera", Kind::Label)];
    Definition::new("experience", &["correction_stops", "sd_stops", "based_on"], |g| {
        let mut observations = Vec::new();
        for o in g.records("observations")? {
            observations.push(Observation {
                stops: o.number("stops")?,
                judged: if o.choice("source")? == "scan" { Judged::ByScan } else { Judged::ByEye },
                session: o.text("session")?,
                camera: o.text("camera")?,
            });
        }
        let asked = g.record("forecast_for")?;
        let spread = Spread {
            paper: g.number("paper_sd")?,
            session: g.number("session_sd")?,
            camera: g.number("camera_sd")?,
            noise_by_eye: g.number("noise_eye")?,
            noise_by_scan: g.number("noise_scan")?,
        };
        let learned = experience(&observations, &asked.text("session")?, &asked.text("camera")?, spread);
        Ok(Values::new()
            .with("correction_stops", learned.correction_stops)
            .with("sd_stops", learned.sd_stops)
            .with("based_on", learned.based_on)
            .with_working(learned.working(spread)))
    })
    .takes("observations", Kind::Records { fields: observation, least: 0 })
    .takes("forecast_for", Kind::Record(asked))
    .defaults("paper_sd", SD, Item::Number(usual.paper))
    .defaults("session_sd", SD, Item::Number(usual.session))
    .defaults("camera_sd", SD, Item::Number(usual.camera))
    .defaults("noise_eye", SD, Item::Number(usual.noise_by_eye))
    .defaults("noise_scan", SD, Item::Number(usual.noise_by_scan))
}
