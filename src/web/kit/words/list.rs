//! The words themselves, in groups that belong together.

use super::{Group, ours, trade};

/// Every word.
pub static GROUPS: &[Group] = &[
    Group {
        name: "The evening and its people",
        words: &[
            trade("Section", "The students of one course group, with their own door code and roster."),
            trade("Roster", "The list of a section's students, each with a roster number."),
            trade("Lab session", "One meeting of a section: planned, then open, then closed."),
            ours("Bench", "A student's own pages: what to do now, with which numbers, and what was saved."),
            ours("Front bench", "The pages of the instructor and the assistant."),
            ours(
                "Floor",
                "The page of a session in progress: one line for each camera, with the step its partners are at.",
            ),
            ours("Bare floor", "The floor without names, to be projected where everybody sees it."),
            ours("Partners", "Students who share a camera, and so its hole and its sheets."),
            ours(
                "Door code",
                "The short code on the lab door. With it, a roster number and a family name, a student takes a seat in the section.",
            ),
            ours(
                "Seat key",
                "Four words that a student copies on paper. They bring the student back to their seat from any computer. Lost: the front bench gives a new one.",
            ),
            ours(
                "Stockroom",
                "The papers, films and chemical products of a site, with the figures that belong to them.",
            ),
            ours("Bench card", "A printed card for the dark room: the hole, the exposure, the steps, boxes to tick."),
            ours("Prep sheet", "The instructor's printed page before a session: what to mix, cut, set out and label."),
            ours("Own figure", "A value a student works out before the server shows its own."),
            ours(
                "Held back",
                "Of an own figure: not shown on the student's pages and cards yet. It opens when it is right, and after two tries in any case.",
            ),
            trade("Site", "One teaching darkroom with its stockroom, its rules and its waste containers."),
        ],
    },
    Group {
        name: "The camera and its hole",
        words: &[
            trade("Camera", "A light-tight box or can with a hole at one side and paper or film at the other."),
            trade("Hole", "What stands in for a lens: small, round and clean, in thin metal."),
            trade("Hole diameter", "How wide the hole is, measured across it in more than one direction."),
            trade(
                "Hole-to-film distance",
                "From the hole straight to the film. In a can with the hole in its side it is the inside diameter.",
            ),
            ours("End-hole can", "A can with the hole in one end and the film flat in the other."),
            ours("Side-hole can", "A can with the hole in its side wall and the film bent along the wall opposite."),
            trade("Body cap", "The cap that closes a camera body without its lens; here it carries the hole."),
            trade("Shim", "Thin sheet metal, often brass, in which the hole is made."),
            trade(
                "f-number",
                "Hole-to-film distance divided by hole diameter. The larger it is, the longer the exposure.",
            ),
            trade("Angle of view", "How much of the world, in degrees, the camera takes in from edge to edge."),
            trade("Fall-off", "How much less light the edges of the film get than its middle, in stops."),
            trade(
                "Image circle",
                "The round area of flat film that the hole lights: up to where so many stops are lost, and at most to where the plate's thickness cuts the light off.",
            ),
            trade("Magnification", "The size of a thing in the picture divided by its real size."),
            trade(
                "Diffraction",
                "The spreading of light at an edge. It blurs the picture of a hole that is too small.",
            ),
            trade("Point spread", "The small spot that a point of light becomes in the picture."),
            trade(
                "Modulation transfer",
                "How much of the contrast of fine stripes survives in the picture, from 1 (all) to 0 (none).",
            ),
            trade("Sharpness", "Here: how steeply the picture of a straight edge goes from dark to light."),
            ours(
                "Sharpest hole",
                "The hole that diffraction theory itself prefers in a camera: narrower ones blur by diffraction, wider ones by their own width.",
            ),
            trade(
                "Line pair",
                "A dark and a light stripe side by side. Fineness is counted in line pairs per millimetre.",
            ),
            trade("Ovalness", "How far a hole is from round: the difference of its readings compared with their mean."),
            trade(
                "Micrometer",
                "A screw gauge that reads hundredths or thousandths of a millimetre; its setting marks where to stop on the needle's taper.",
            ),
            ours("Shutter clock", "A page that counts the time of an exposure in large figures, outside, on a phone."),
            trade("Shutter", "Whatever covers the hole and is lifted for the exposure: tape, a flap, a finger."),
        ],
    },
    Group {
        name: "Light and exposure",
        words: &[
            trade(
                "Exposure",
                "Letting light through the hole onto a sheet, for a time. Also that time, and the sheet that got it.",
            ),
            trade(
                "Stop",
                "One doubling or halving of light. One stop more is twice the light: twice the time, and more than that where reciprocity failure counts.",
            ),
            trade(
                "Exposure value (EV)",
                "A number for the brightness of a scene; one more is twice as bright. Here always at ISO 100.",
            ),
            trade(
                "Exposure index (EI)",
                "How quickly a paper or film takes light, used in place of a film speed. Photographic paper has a low one.",
            ),
            trade("Reflected reading", "What a light meter reads when it is pointed at the scene."),
            trade("Lux", "How much light falls on a surface, read by a meter laid in the scene."),
            trade("Bracket", "Several sheets of the same scene with less and more time, so that one of them is right."),
            trade(
                "Reciprocity failure",
                "In long exposures paper and film take less notice of light, so that the time must be longer than the meter says.",
            ),
            ours(
                "Base time",
                "The time that follows from light, f-number and paper alone, before reciprocity failure and experience.",
            ),
            ours(
                "Forecast",
                "The time suggested for the next sheet, with an interval that holds eight times out of ten.",
            ),
            ours(
                "Shown forecast",
                "The forecast that stood on the page before a sheet was made. It is kept with the sheet, so that what was said and what came of it can be compared.",
            ),
            ours(
                "Film in the camera",
                "Which film a camera body holds. Its time comes from that film's own speed, and its frames teach nothing about the paper.",
            ),
            ours(
                "Colours it sees",
                "Which part of daylight a paper or film answers to: blue, blue and green, or all colours. The picture of the hole is worked out in that light.",
            ),
            ours(
                "Experience",
                "What recorded exposures have taught about this site's paper, this session's light and this camera.",
            ),
            ours(
                "Demonstration sheet",
                "A sheet that staff make to show how it is done. It teaches like any other, often as the first.",
            ),
            ours(
                "Usual time",
                "The time an instructor has always given with a camera they know under a sky they know; it sets the paper's exposure index.",
            ),
            ours(
                "New box",
                "From when on sheets come from another box of a paper: those made before it teach no more.",
            ),
            ours("Taken back", "Recorded by mistake: kept, but counted nowhere. A spoiled sheet is not taken back."),
            trade("Open shade", "A place that the sun does not reach but much of the sky does."),
            trade(
                "ISO paper speed",
                "The number after the P on some boxes, measured by lamp light. Divided by a hundred it is about the exposure index by lamp light; by daylight paper is faster.",
            ),
            trade(
                "Safelight",
                "A lamp to which the paper in use is nearly blind, tested in that darkroom. No screen of any colour is one.",
            ),
        ],
    },
    Group {
        name: "In the dark room",
        words: &[
            trade("Sheet", "One piece of paper or film, cut to fit the camera."),
            trade("Paper", "Photographic paper: slow, and handled under the safelight made for it."),
            trade("Film", "Photographic film: fast, and handled in complete darkness unless its maker says otherwise."),
            trade(
                "Paper negative",
                "A sheet of photographic paper exposed in the camera: bright things are dark on it.",
            ),
            trade(
                "Contact print",
                "A positive made by pressing a negative onto a fresh sheet and letting light through it.",
            ),
            trade("Test strip", "A strip of paper exposed in steps, to find the time for a print."),
            trade("Developer", "The bath that makes the picture visible."),
            trade("Stop bath", "The bath that stops the developer at once."),
            trade(
                "Fixer",
                "The bath that dissolves the silver that took no light, so that the picture keeps. The silver stays in it.",
            ),
            trade("Washing aid", "A bath that shortens the wash after fixing."),
            trade("Wash", "Running or changed water that takes the rest of the fixer out of a sheet."),
            trade("Tray", "The flat dish that holds a bath."),
            ours("Tray line", "One set of trays in use: developer, stop bath, fixer and perhaps a second fixer."),
            trade("Concentrate", "A product as it comes in the bottle, before water is added."),
            trade("Dilution", "Parts of concentrate and parts of water: 1+9 is one part and nine parts, ten in all."),
            trade("Working solution", "A bath ready for use, mixed as its label says."),
            ours("Batch", "One mixing of a working solution, kept with its age and what it has done."),
            trade("Capacity", "How much paper a bath can still treat properly, by area."),
            trade("Carry-over", "The liquid a drained sheet takes from one tray into the next."),
            trade(
                "Safety data sheet",
                "The maker's statement of a product's hazards and how to handle it. It stands above anything said here.",
            ),
        ],
    },
    Group {
        name: "Silver and waste",
        words: &[
            trade(
                "Spent fixer",
                "Fixer that has done its work. It holds dissolved silver and is kept for proper collection.",
            ),
            trade(
                "Silver estimating paper",
                "A test paper that changes colour with the silver in a bath; good for a rough reading.",
            ),
            ours(
                "Silver book",
                "The record of every movement of solution and silver. Nothing in it is changed or removed; mistakes are set right by a further entry.",
            ),
            trade("Reversing entry", "An entry that takes an earlier one back by its exact opposite and says why."),
            ours(
                "Also in it",
                "What a waste container holds beside what it is named for, because staff let it in for a reason that was given. It stands on the label.",
            ),
            ours(
                "Waits",
                "Of sheets whose fixer had left before they were typed in: they are kept, and the instructor says how they count.",
            ),
            ours(
                "Low and high estimate",
                "The least and the most that a silver figure may really be; warnings go by the high one.",
            ),
            trade(
                "Waste container",
                "A closed, labelled vessel for one kind of waste: filling, then full, then removed.",
            ),
            trade(
                "Accumulation start date",
                "The day the first drop went into a waste container, as written on its label.",
            ),
            trade("Clearing test", "How long film takes to clear in a fixer, against the time in the fresh one."),
            trade(
                "First rinse",
                "The first water after the fixer: it holds fixer and silver, and has a waste container of its own.",
            ),
            trade("Removal", "The handing over of a waste container to a carrier, with destination and reference."),
            trade("Carrier", "Whoever is licensed to take the waste away."),
            trade(
                "Discharge",
                "Letting go of a liquid under the written permission of an authority. Only staff can record one, naming that permission.",
            ),
        ],
    },
    Group {
        name: "Reports and marks",
        words: &[
            trade("Report", "A student's text on a session. Once handed in it can be taken back until it is marked."),
            trade("Rubric", "The list of criteria by which the work of a session is marked."),
            trade("Criterion", "One thing that is marked, with the points it can bring."),
            trade("Mark", "The points given for one criterion, with a comment."),
            ours(
                "From the record",
                "Of a criterion: what the record of the evening suggests stands beside the mark, with its evidence. The marker takes it, or says why not.",
            ),
            ours(
                "Seen by staff",
                "What no record can tell and staff notes: whether a hole is round, who helped to clean up.",
            ),
            ours("Archived", "Of a section that is over: everything can be read, nothing changed."),
            ours(
                "Forgotten",
                "Of an archived section's people: names, marks, reports and pictures are gone; exposures stay without their makers, and the silver book as it is.",
            ),
        ],
    },
];
