//! The papers that come with the scenario: wordings, rules, letters, and one small picture.

/// The bytes of a paper by its name; none when there is no such paper.
pub fn paper(name: &str) -> Option<Vec<u8>> {
    let text = match name {
        "rules-1" => super::RULES,
        "F1" => include_str!("papers/F1.txt"),
        "F2" => include_str!("papers/F2.txt"),
        "N1" => include_str!("papers/N1.txt"),
        "J2" => include_str!("papers/J2.txt"),
        "custody-order" => include_str!("papers/custody-order.txt"),
        "intake-sheet" => include_str!("papers/intake-sheet.txt"),
        "doctor-answer" => include_str!("papers/doctor-answer.txt"),
        "x-ray-report" => include_str!("papers/x-ray-report.txt"),
        "audit-letter" => include_str!("papers/audit-letter.txt"),
        "authorisation" => include_str!("papers/authorisation.txt"),
        "amendment-letter" => include_str!("papers/amendment-letter.txt"),
        "letters-testamentary" => include_str!("papers/letters-testamentary.txt"),
        "tape-photo" => return Some(tape_photo()),
        _ => return None,
    };
    Some(text.as_bytes().to_vec())
}

const WIDTH: usize = 96;
const HEIGHT: usize = 72;

/// A drawn stand-in for a photograph: two reddened strips on skin, with blisters at their ends.
fn tape_photo() -> Vec<u8> {
    let mut rows = Vec::with_capacity(HEIGHT * (1 + WIDTH * 3));
    for y in 0..HEIGHT {
        rows.push(0);
        for x in 0..WIDTH {
            rows.extend(skin(x, y));
        }
    }
    png(WIDTH as u32, HEIGHT as u32, &rows)
}

fn skin(x: usize, y: usize) -> [u8; 3] {
    let grain = ((x * 31 + y * 17 + x * y) % 9) as u8;
    let strip = ((26..38).contains(&x) || (58..70).contains(&x)) && (8..64).contains(&y);
    let edge = strip && (matches!(x, 26 | 27 | 36 | 37 | 58 | 59 | 68 | 69) || !(12..60).contains(&y));
    let blister = edge && !(12..60).contains(&y) && (x * 7 + y * 3) % 11 < 3;
    match (blister, edge, strip) {
        (true, ..) => [240 - grain, 205, 190],
        (_, true, _) => [206 - grain, 92 + grain, 88],
        (.., true) => [218 - grain, 128 + grain, 116],
        _ => [226 - grain, 186 - grain, 158 + grain],
    }
}

/// A PNG file (ISO/IEC 15948): eight-bit colour, the rows stored without compression.
fn png(width: u32, height: u32, rows: &[u8]) -> Vec<u8> {
    let mut header = Vec::new();
    header.extend(width.to_be_bytes());
    header.extend(height.to_be_bytes());
    header.extend([8, 2, 0, 0, 0]);
    let mut out = vec![0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n'];
    chunk(&mut out, b"IHDR", &header);
    chunk(&mut out, b"IDAT", &stored(rows));
    chunk(&mut out, b"IEND", &[]);
    out
}

fn chunk(out: &mut Vec<u8>, kind: &[u8; 4], data: &[u8]) {
    out.extend((data.len() as u32).to_be_bytes());
    let start = out.len();
    out.extend(kind);
    out.extend(data);
    let check = crc32(&out[start..]);
    out.extend(check.to_be_bytes());
}

/// A zlib stream (RFC 1950) of stored blocks (RFC 1951, 3.2.4).
fn stored(bytes: &[u8]) -> Vec<u8> {
    let mut out = vec![0x78, 0x01];
    let mut blocks = bytes.chunks(0xffff).peekable();
    while let Some(block) = blocks.next() {
        let len = block.len() as u16;
        out.push(u8::from(blocks.peek().is_none()));
        out.extend(len.to_le_bytes());
        out.extend((!len).to_le_bytes());
        out.extend(block);
    }
    out.extend(adler32(bytes).to_be_bytes());
    out
}

fn adler32(bytes: &[u8]) -> u32 {
    let (a, b) = bytes.iter().fold((1u32, 0u32), |(a, b), byte| {
        let a = (a + u32::from(*byte)) % 65_521;
        (a, (a + b) % 65_521)
    });
    b << 16 | a
}

fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { c >> 1 ^ 0xedb8_8320 } else { c >> 1 })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn check_sums_are_those_of_the_standards() {
        // Both over "123456789", computed with zlib through another language's library.
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
        assert_eq!(adler32(b"123456789"), 0x091e_01de);
    }

    #[test]
    fn the_picture_is_a_whole_png() {
        let picture = tape_photo();
        assert!(picture.starts_with(b"\x89PNG\r\n\x1a\n"));
        assert!(picture.ends_with(b"\0\0\0\0IEND\xaeB`\x82"));
        assert!(picture.len() > WIDTH * HEIGHT * 3);
    }
}
