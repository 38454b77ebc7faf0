//! Tools of standard sizes near the hole to make: always the nearest wire, drill, needle and tubing, with how far each
//! is off.

use askama::Template;

use crate::{
    calc::{
        optics::gauges::{
            machine_needle_mm, machine_needle_working, nearest_machine_needle, nearest_number_drill,
            nearest_tube_gauge, nearest_wire_gauge, number_drill_mm, number_drill_working, tube_gauge_mm,
            tube_gauge_working, wire_gauge_mm, wire_gauge_working,
        },
        quantity::HoleDiameter,
        working::{Working, figures},
    },
    domain::measure::length::{LengthUnit, computed_words},
};

/// The table of tools.
#[derive(Debug, Template)]
#[template(path = "bench/tools.html")]
pub struct Tools {
    tools: Vec<Tool>,
    /// The one that is least off, in words.
    nearest: String,
}

impl askama::filters::HtmlSafe for Tools {}

/// A tool whose size is nearest of its kind.
#[derive(Debug)]
struct Tool {
    name: String,
    diameter: String,
    off: f64,
    /// How far it is off, in words and with its working.
    off_words: String,
    off_working: String,
    working: Working,
}

/// A tool further off than this share of the target makes another hole.
const USEFUL: f64 = 0.2;

impl Tools {
    /// The tools nearest to a hole.
    pub fn near(hole: HoleDiameter, unit: LengthUnit) -> Self {
        let target = hole.as_mm();
        let (wire, drill) = (nearest_wire_gauge(target), nearest_number_drill(target));
        let (needle, tube) = (nearest_machine_needle(target), nearest_tube_gauge(target));
        let rows = [
            (format!("Wire no. {wire}"), Some(wire_gauge_mm(wire)), Some(wire_gauge_working(wire))),
            (format!("Number drill {drill}"), number_drill_mm(drill), number_drill_working(drill)),
            (
                format!("Machine needle NM {needle}"),
                Some(machine_needle_mm(needle)),
                Some(machine_needle_working(needle)),
            ),
            (format!("Needle tubing, gauge {tube}"), tube_gauge_mm(tube), tube_gauge_working(tube)),
        ];
        let tools: Vec<_> = rows
            .into_iter()
            .filter_map(|(name, mm, working)| {
                let (mm, working) = (mm?, working?);
                let off = mm / target - 1.0;
                let percent = format!("{:+.0} %", off * 100.0);
                let words = if off.abs() > USEFUL { format!("{percent}, too far off") } else { percent.clone() };
                Some(Tool {
                    name,
                    diameter: computed_words(mm, 3, unit),
                    off,
                    off_words: words,
                    off_working: format!("{} mm / {} mm − 1 = {percent}", figures(mm, 3), figures(target, 3)),
                    working,
                })
            })
            .collect();
        let least = tools.iter().min_by(|a, b| a.off.abs().total_cmp(&b.off.abs()));
        let nearest = least.map_or(String::new(), |tool| {
            let of_use = if tool.off.abs() > USEFUL {
                "; none is within a fifth, so set the micrometer and mark a needle"
            } else {
                ""
            };
            format!("Nearest: {}, {} ({}){of_use}.", lower_first(&tool.name), tool.diameter, tool.off_words)
        });
        Self { tools, nearest }
    }
}

fn lower_first(words: &str) -> String {
    let mut words = words.to_owned();
    if let Some(first) = words.get_mut(..1) {
        first.make_ascii_lowercase();
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(mm: f64, unit: LengthUnit) -> Tools {
        Tools::near(HoleDiameter::new(mm).expect("in range"), unit)
    }

    #[test]
    fn the_nearest_of_each_kind_is_shown_with_how_far_it_is_off() {
        // 0.488 mm: wire no. 24 is 0.511 mm, drill no. 76 is 0.020 in = 0.508 mm, needles begin at 0.6 mm, tubing of
        // gauge 26 is 0.01825 in = 0.464 mm outside
        let said = near(0.488, LengthUnit::Millimetre);
        let rows: Vec<_> = said
            .tools
            .iter()
            .map(|tool| (tool.name.as_str(), tool.diameter.as_str(), tool.off_words.as_str()))
            .collect();
        assert_eq!(
            rows,
            [
                ("Wire no. 24", "0.511 mm", "+5 %"),
                ("Number drill 76", "0.508 mm", "+4 %"),
                ("Machine needle NM 60", "0.600 mm", "+23 %, too far off"),
                ("Needle tubing, gauge 26", "0.464 mm", "-5 %"),
            ]
        );
        assert_eq!(said.nearest, "Nearest: number drill 76, 0.508 mm (+4 %).");
        assert_eq!(said.tools[0].off_working, "0.511 mm / 0.488 mm − 1 = +5 %");
    }

    #[test]
    fn a_hole_that_no_tool_has_still_gets_the_nearest_and_an_advice() {
        let tiny = near(0.02, LengthUnit::Inch);
        assert_eq!(tiny.tools.len(), 4);
        assert!(tiny.nearest.contains("wire no. 52") && !tiny.nearest.contains("micrometer"), "{}", tiny.nearest);
        let huge = near(15.0, LengthUnit::Millimetre);
        assert!(huge.nearest.contains("mark a needle"), "{}", huge.nearest);
    }
}
