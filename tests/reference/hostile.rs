//! Pictures that are cut off, lie, or are none: each is read whole or refused with its reason, never half measured.

use std::io::Write;
use std::path::Path;

use flate2::{Compression, Crc, write::ZlibEncoder};
use serde_json::Value;

use crate::scans::scan;

const WIDTH: u32 = 420;
const HEIGHT: u32 = 330;
const SIGNATURE: &[u8] = b"\x89PNG\r\n\x1a\n";

/// A small sheet on a dark lid: a white border round a picture of broad tones.
fn pixels() -> Vec<u8> {
    let code = |x: i32, y: i32| {
        let level = if (48..372).contains(&x) && (43..287).contains(&y) {
            if (y / 40) % 2 == 1 { 30 + (x - 48) * 200 / 324 } else { 225 - (x - 48) * 190 / 324 }
        } else if (30..390).contains(&x) && (25..305).contains(&y) {
            237
        } else {
            52
        };
        (level + (x * 7 + y * 13) % 5 - 2).clamp(0, 255) as u8
    };
    (0..HEIGHT as i32).flat_map(|y| (0..WIDTH as i32).map(move |x| code(x, y))).collect()
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = ZlibEncoder::new(Vec::new(), Compression::new(6));
    packer.write_all(bytes).expect("memory");
    packer.finish().expect("memory")
}

fn chunk(kind: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let mut sum = Crc::new();
    sum.update(kind);
    sum.update(data);
    [&(data.len() as u32).to_be_bytes(), &kind[..], data, &sum.sum().to_be_bytes()].concat()
}

fn header(width: u32, height: u32, bits: u8, colour: u8) -> Vec<u8> {
    chunk(b"IHDR", &[&width.to_be_bytes()[..], &height.to_be_bytes(), &[bits, colour, 0, 0, 0]].concat())
}

fn resolution(per_metre: u32, unit: u8) -> Vec<u8> {
    chunk(b"pHYs", &[&per_metre.to_be_bytes()[..], &per_metre.to_be_bytes(), &[unit]].concat())
}

/// Rows as a PNG holds them before packing: each begins with its filter.
fn rows(samples: &[u8], bytes: usize) -> Vec<u8> {
    samples.chunks(bytes).flat_map(|row| std::iter::once(0).chain(row.iter().copied())).collect()
}

fn end() -> Vec<u8> {
    chunk(b"IEND", b"")
}

/// A PNG of the small sheet with other chunks in front of its pixels.
fn png_with(before: &[Vec<u8>]) -> Vec<u8> {
    let data = chunk(b"IDAT", &packed(&rows(&pixels(), WIDTH as usize)));
    [SIGNATURE.to_vec(), header(WIDTH, HEIGHT, 8, 0), before.concat(), data, end()].concat()
}

/// The small sheet as a JPEG of 100 pixels to the inch.
fn jpeg(exif_orientation: Option<u16>) -> Vec<u8> {
    let mut file = include_bytes!("scans/plain.jpg").to_vec();
    if let Some(orientation) = exif_orientation {
        let [high, low] = orientation.to_be_bytes();
        let exif =
            [&b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01"[..], &[high, low, 0, 0, 0, 0, 0, 0]].concat();
        let segment = [&[0xff, 0xe1][..], &(exif.len() as u16 + 2).to_be_bytes(), &exif].concat();
        file.splice(2..2, segment);
    }
    file
}

/// Where the frame header of a JPEG begins.
fn frame(jpeg: &[u8]) -> usize {
    jpeg.windows(2).position(|two| two == [0xff, 0xc0]).expect("a baseline frame")
}

struct Tiff {
    size: [u32; 2],
    bits: u16,
    photometric: u16,
    offset: Option<u32>,
    next: Option<u32>,
    format: Option<u16>,
}

impl Tiff {
    fn new() -> Self {
        Self { size: [WIDTH, HEIGHT], bits: 8, photometric: 1, offset: None, next: None, format: None }
    }

    /// One strip, unpacked, 100 pixels to the inch.
    fn of(&self, data: &[u8]) -> Vec<u8> {
        let mut file = [b"II*\0", &0u32.to_le_bytes()[..], data].concat();
        file.resize(file.len().div_ceil(2) * 2, 0);
        let ratio = file.len() as u32;
        file.extend([100u32.to_le_bytes(), 1u32.to_le_bytes()].concat());
        let directory = file.len() as u32;
        file[4..8].copy_from_slice(&directory.to_le_bytes());
        let [width, height] = self.size;
        let short = |tag: u16, value: u16| (tag, 3u16, u32::from(value));
        let mut tags = vec![
            (256, 4, width),
            (257, 4, height),
            short(258, self.bits),
            short(259, 1),
            short(262, self.photometric),
            (273, 4, self.offset.unwrap_or(8)),
            short(277, 1),
            (278, 4, height),
            (279, 4, data.len() as u32),
            (282, 5, ratio),
            (283, 5, ratio),
            short(296, 2),
        ];
        tags.extend(self.format.map(|format| short(339, format)));
        file.extend((tags.len() as u16).to_le_bytes());
        for (tag, kind, value) in tags {
            file.extend(
                [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &1u32.to_le_bytes(), &value.to_le_bytes()].concat(),
            );
        }
        let next = self.next.map_or(0, |next| if next == u32::MAX { directory } else { next });
        file.extend(next.to_le_bytes());
        file
    }
}

/// Asks about bytes as a sheet.
fn answer(name: &str, bytes: &[u8]) -> Value {
    let room = tempfile::tempdir().expect("a folder");
    let file = room.path().join(name);
    std::fs::write(&file, bytes).expect("a file");
    let printed = scan("sheet", &file, &[]);
    let refused = printed.json["status"] == "refused";
    assert_eq!(printed.code, Some(i32::from(refused)), "{name}: {}", printed.json);
    printed.json
}

fn is_read(name: &str, bytes: &[u8]) -> Value {
    let json = answer(name, bytes);
    assert_eq!(json["status"], "one", "{name}: {json}");
    json
}

fn is_refused(name: &str, bytes: &[u8], reasons: &[&str]) {
    let json = answer(name, bytes);
    assert_eq!(json["status"], "refused", "{name}: {json}");
    assert!(reasons.contains(&json["reason"].as_str().unwrap_or_default()), "{name}: {json}");
    assert_eq!(json["found"], serde_json::json!([]), "{name}");
}

fn dots() -> Vec<u8> {
    resolution(3937, 1)
}

#[test]
fn plain_files_of_every_kind_are_read_alike() {
    let progressive = include_bytes!("scans/progressive.jpg");
    let trailing = [jpeg(None), b"garbage".repeat(500)].concat();
    let inverted: Vec<u8> = pixels().iter().map(|code| 255 - code).collect();
    let sixteen: Vec<u8> = pixels().iter().flat_map(|code| [*code; 2]).collect();
    let rgba: Vec<u8> = pixels().iter().flat_map(|code| [*code, *code, *code, *code, *code, *code, 255, 255]).collect();
    let rgba = [
        SIGNATURE.to_vec(),
        header(WIDTH, HEIGHT, 16, 6),
        dots(),
        chunk(b"IDAT", &packed(&rows(&rgba, WIDTH as usize * 8))),
        end(),
    ]
    .concat();
    let files: [(&str, Vec<u8>); 8] = [
        ("plain.png", png_with(&[dots()])),
        ("plain.jpg", jpeg(None)),
        ("plain.tif", Tiff::new().of(&pixels())),
        ("progressive.jpg", progressive.to_vec()),
        ("trailing.jpg", trailing),
        ("white_is_zero.tif", Tiff { photometric: 0, ..Tiff::new() }.of(&inverted)),
        ("sixteen.tif", Tiff { bits: 16, ..Tiff::new() }.of(&sixteen)),
        ("rgba16.png", rgba),
    ];
    for (name, bytes) in files {
        let json = is_read(name, &bytes);
        assert!((json["dpi"].as_f64().unwrap() - 100.0).abs() < 0.01, "{name}: {json}");
        let base = json["found"][0]["base_density"].as_f64().unwrap();
        // code 237 of 255, by the transfer of sRGB
        assert!((base - 0.0716).abs() < 0.003, "{name}: {base}");
        let left = json["found"][0]["corners_px"][0][0].as_f64().unwrap();
        assert!((left - 29.5).abs() < 0.6, "{name}: {left}");
    }
}

#[test]
fn what_is_no_picture_is_refused() {
    is_refused("empty.png", b"", &["empty file"]);
    is_refused("page.png", b"<!doctype html><html><body>404</body></html>\n", &["not an image"]);
    is_refused("drawing.png", br#"<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>"#, &["not an image"]);
    is_refused(
        "gif.png",
        b"GIF89a\x01\0\x01\0\x80\0\0\0\0\0\xff\xff\xff,\0\0\0\0\x01\0\x01\0\0\x02\x02D\x01\0;",
        &["unsupported format"],
    );
    is_refused("bmp.png", &[&b"BM"[..], &[0; 60]].concat(), &["unsupported format"]);
    let missing = scan("sheet", Path::new("no/such/picture.png"), &[]);
    assert_eq!((missing.code, missing.json["reason"].as_str()), (Some(1), Some("cannot be read")));
    let folder = scan("sheet", Path::new(env!("CARGO_MANIFEST_DIR")), &[]);
    assert_eq!((folder.code, folder.json["reason"].as_str()), (Some(1), Some("cannot be read")));
}

#[test]
fn half_a_picture_is_not_measured() {
    let whole = png_with(&[dots()]);
    let stream = packed(&rows(&pixels(), WIDTH as usize));
    let short_stream = chunk(b"IDAT", &stream[..stream.len() * 2 / 3]);
    let mut wrong_sum = whole.clone();
    let at = wrong_sum.len() - 16;
    wrong_sum[at..at + 4].copy_from_slice(&[0, 1, 2, 3]);
    let mut wrong_header = whole.clone();
    wrong_header[32] ^= 0x5a;
    let photograph = jpeg(None);
    let progressive = include_bytes!("scans/progressive.jpg");
    let tiff = Tiff::new();
    for (name, bytes) in [
        ("half.png", whole[..whole.len() / 2].to_vec()),
        ("no_end.png", whole[..whole.len() - 12].to_vec()),
        ("short.png", [SIGNATURE.to_vec(), header(WIDTH, HEIGHT, 8, 0), dots(), short_stream, end()].concat()),
        ("bad_sum.png", wrong_sum),
        ("bad_header.png", wrong_header),
        ("zero_width.png", [SIGNATURE.to_vec(), header(0, HEIGHT, 8, 0), chunk(b"IDAT", &stream), end()].concat()),
        ("half.jpg", photograph[..photograph.len() * 3 / 5].to_vec()),
        ("last_byte.jpg", photograph[..photograph.len() - 1].to_vec()),
        ("ended.jpg", [&photograph[..photograph.len() * 3 / 5], &[0xff, 0xd9]].concat()),
        ("ended_progressive.jpg", [&progressive[..progressive.len() * 3 / 5], &[0xff, 0xd9]].concat()),
        ("almost_progressive.jpg", [&progressive[..progressive.len() - 40], &[0xff, 0xd9]].concat()),
        ("half_strip.tif", tiff.of(&pixels()[..WIDTH as usize * 100])),
        ("outside.tif", Tiff { offset: Some(0x7fff_ff00), ..Tiff::new() }.of(&pixels())),
        ("directory.tif", {
            let file = tiff.of(&pixels());
            file[..file.len() - 60].to_vec()
        }),
    ] {
        is_refused(name, &bytes, &["damaged file"]);
    }
}

#[test]
fn every_cut_of_a_small_file_is_refused_or_read_and_never_a_crash() {
    let tiny = |height: u32| vec![128u8; 9 * height as usize];
    let png = [SIGNATURE.to_vec(), header(9, 9, 8, 0), chunk(b"IDAT", &packed(&rows(&tiny(9), 9))), end()].concat();
    let tiff = Tiff { size: [9, 9], ..Tiff::new() }.of(&tiny(9));
    for (kind, file) in [("png", png), ("tif", tiff)] {
        for cut in (1..file.len()).step_by(5) {
            let found = shimlight::scans::read(std::io::Cursor::new(&file[..cut]), TRANSFER);
            assert!(found.is_err(), "{kind} of {cut} bytes");
        }
    }
    let photograph = jpeg(None);
    for cut in (1..photograph.len()).step_by(97) {
        let found = shimlight::scans::read(std::io::Cursor::new(&photograph[..cut]), TRANSFER);
        assert!(found.is_err(), "jpg of {cut} bytes");
    }
}

const TRANSFER: shimlight::calc::imaging::transfer::Transfer = shimlight::calc::imaging::transfer::Transfer::Srgb;

#[test]
fn too_many_pixels_are_refused_from_the_header() {
    let data = chunk(b"IDAT", &packed(b"\0\x80"));
    let png = |width, height, bits| [SIGNATURE.to_vec(), header(width, height, bits, 0), data.clone(), end()].concat();
    is_refused("bomb.png", &png(50_000, 50_000, 8), &["too large"]);
    is_refused("one_bit.png", &png(30_000, 30_000, 1), &["too large"]);
    is_refused("just.png", &png(250_000, 1_000, 8), &["too large"]);
    let mut photograph = jpeg(None);
    let at = frame(&photograph);
    photograph[at + 5..at + 9].copy_from_slice(&[0xff, 0xdc, 0xff, 0xdc]);
    is_refused("bomb.jpg", &photograph, &["too large"]);
    is_refused("bomb.tif", &Tiff { size: [50_000, 50_000], ..Tiff::new() }.of(&pixels()), &["too large"]);
}

#[test]
fn loads_beside_the_pixels_stay_packed() {
    let load = packed(&vec![0; 64 << 20]);
    is_read("profile.png", &png_with(&[chunk(b"iCCP", &[b"p\0\0", &load[..]].concat()), dots()]));
    is_read("text.png", &png_with(&[chunk(b"zTXt", &[b"Comment\0\0", &load[..]].concat()), dots()]));
    is_read("texts.png", &png_with(&[chunk(b"tEXt", b"a\0b").repeat(5_000), dots()]));
    is_refused("loop.tif", &Tiff { next: Some(u32::MAX), ..Tiff::new() }.of(&pixels()), &["damaged file"]);
}

#[test]
fn colours_that_are_no_reflectances_are_refused() {
    let mut inks = jpeg(None);
    let at = frame(&inks);
    inks[at + 9] = 4;
    is_refused("inks.jpg", &inks, &["unsupported colour"]);
    let bits: Vec<u8> = vec![0xaa; WIDTH.div_ceil(8) as usize * HEIGHT as usize];
    is_refused("one_bit.tif", &Tiff { bits: 1, ..Tiff::new() }.of(&bits), &["no grey levels"]);
    let floats: Vec<u8> = pixels().iter().flat_map(|code| (f32::from(*code) / 255.0).to_le_bytes()).collect();
    is_refused("float.tif", &Tiff { bits: 32, format: Some(3), ..Tiff::new() }.of(&floats), &["unsupported colour"]);
    let table: Vec<u8> = (0..=255).flat_map(|grey| [grey; 3]).collect();
    let see_through: Vec<u8> = (0..=255u8).map(|code| if code == 0 { 0 } else { 255 }).collect();
    let palette = [
        SIGNATURE.to_vec(),
        header(WIDTH, HEIGHT, 8, 3),
        chunk(b"PLTE", &table),
        chunk(b"tRNS", &see_through),
        chunk(b"IDAT", &packed(&rows(&pixels(), WIDTH as usize))),
        end(),
    ];
    let read = is_read("palette.png", &palette.concat());
    assert!(read["warnings"].to_string().contains("transparency"), "{read}");
}

#[test]
fn a_header_that_lies_about_resolution_or_orientation_is_not_believed() {
    for (name, said) in [("zero", resolution(0, 1)), ("huge", resolution(u32::MAX, 1)), ("aspect", resolution(3937, 0))]
    {
        let read = is_read(name, &png_with(&[said]));
        assert_eq!((&read["dpi"], &read["dpi_from"]), (&Value::Null, &Value::Null), "{name}");
        assert_eq!(read["found"][0]["size_mm"], Value::Null, "{name}");
    }
    assert_eq!(is_read("99.jpg", &jpeg(Some(99)))["width_px"], WIDTH);
    assert_eq!(is_read("5.jpg", &jpeg(Some(5)))["width_px"], HEIGHT);
    let room = tempfile::tempdir().expect("a folder");
    let file = room.path().join("hole.png");
    std::fs::write(&file, png_with(&[])).expect("a file");
    let hole = scan("hole", &file, &[]);
    assert_eq!((hole.code, hole.json["reason"].as_str()), (Some(1), Some("no resolution")));
    let given = scan("hole", &file, &["--dpi".to_owned(), "1200".to_owned()]);
    assert_eq!((given.code, given.json["dpi_from"].as_str()), (Some(0), Some("given")));
}

#[test]
fn where_there_is_nothing_nothing_is_found() {
    let flat = |width: u32, height: u32, code: u8| {
        let data = rows(&vec![code; (width * height) as usize], width as usize);
        [SIGNATURE.to_vec(), header(width, height, 8, 0), dots(), chunk(b"IDAT", &packed(&data)), end()].concat()
    };
    assert_eq!(answer("pixel.png", &flat(1, 1, 128))["status"], "none");
    for code in [0, 128, 255] {
        assert_eq!(answer("flat.png", &flat(WIDTH, HEIGHT, code))["status"], "none", "{code}");
    }
    let mut state = 5u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    };
    let noise: Vec<u8> = (0..WIDTH * HEIGHT).map(|_| noise()).collect();
    let data = chunk(b"IDAT", &packed(&rows(&noise, WIDTH as usize)));
    let noise = answer("noise.png", &[SIGNATURE.to_vec(), header(WIDTH, HEIGHT, 8, 0), dots(), data, end()].concat());
    assert!(noise["status"] == "none" || noise["status"] == "border", "{noise}");
}
