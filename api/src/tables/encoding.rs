//! From the bytes of a file to its text: UTF-8, UTF-16 of either order, or Windows-1252. What is none of
//! these for certain is refused, with the place of the first byte at fault. It knows no rows.

use chardetng::{EncodingDetector, Iso2022JpDetection, Utf8Detection};
use encoding_rs::{Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::report::Problem;

/// How the bytes of a file stand for text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Charset {
    Utf8,
    Utf16Le,
    Utf16Be,
    Windows1252,
}

impl Charset {
    pub(super) const fn as_str(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Utf16Le => "utf-16le",
            Self::Utf16Be => "utf-16be",
            Self::Windows1252 => "windows-1252",
        }
    }
}

/// How a spreadsheet writes a file that is read for certain.
const ADVICE: &str = "save the file as \"CSV UTF-8\" and send it again";

/// The text of a file, without its byte order mark, and how it was written.
///
/// # Errors
/// The first byte that cannot be read, with its line and its place there.
pub(super) fn text_of(bytes: &[u8]) -> Result<(String, Charset), Problem> {
    // The byte order marks of the Unicode Standard, section 23.8.
    match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => utf8(rest).map(|text| (text, Charset::Utf8)),
        [0xFF, 0xFE, rest @ ..] => utf16(rest, UTF_16LE).map(|text| (text, Charset::Utf16Le)),
        [0xFE, 0xFF, rest @ ..] => utf16(rest, UTF_16BE).map(|text| (text, Charset::Utf16Be)),
        _ => match unmarked_utf16(bytes) {
            Some(Charset::Utf16Le) => utf16(bytes, UTF_16LE).map(|text| (text, Charset::Utf16Le)),
            Some(_) => utf16(bytes, UTF_16BE).map(|text| (text, Charset::Utf16Be)),
            None => eight_bit(bytes),
        },
    }
}

/// Whether bytes are UTF-16 although nothing says so: the names of columns begin with letters of ASCII,
/// every one of which then has a zero beside it.
fn unmarked_utf16(bytes: &[u8]) -> Option<Charset> {
    match bytes {
        [1..=0x7F, 0, 1..=0x7F, 0, ..] => Some(Charset::Utf16Le),
        [0, 1..=0x7F, 0, 1..=0x7F, ..] => Some(Charset::Utf16Be),
        _ => None,
    }
}

fn utf8(bytes: &[u8]) -> Result<String, Problem> {
    let read = std::str::from_utf8(bytes).map(str::to_owned);
    read.map_err(|error| {
        let at = error.valid_up_to();
        let (line, character) =
            place(&String::from_utf8_lossy(bytes.get(..at).unwrap_or_default()));
        let byte = bytes.get(at).copied().unwrap_or_default();
        let reason = format!("the byte {byte:#04X} is not UTF-8; {ADVICE}");
        Problem::in_text(line, character, "bad_encoding", reason)
    })
}

fn utf16(bytes: &[u8], encoding: &'static Encoding) -> Result<String, Problem> {
    let (text, bad) = encoding.decode_without_bom_handling(bytes);
    if !bad {
        return Ok(text.into_owned());
    }
    let before = text.split('\u{FFFD}').next().unwrap_or_default();
    let (line, character) = place(before);
    let reason = format!("half a character of UTF-16 stands here; {ADVICE}");
    Err(Problem::in_text(line, character, "bad_encoding", reason))
}

/// UTF-8 if it is that. Otherwise Windows-1252, if that is what it looks like: a file with some letters
/// in UTF-8 and others that are not is damaged, and one of another alphabet would be misread.
fn eight_bit(bytes: &[u8]) -> Result<(String, Charset), Problem> {
    let refused = match utf8(bytes) {
        Ok(text) => return Ok((text, Charset::Utf8)),
        Err(refused) => refused,
    };
    let some_utf8 = bytes.utf8_chunks().any(|chunk| !chunk.valid().is_ascii());
    // Positions that Windows-1252 leaves open (the mapping table of the Unicode Consortium, CP1252.TXT).
    let unused = |byte: &u8| matches!(byte, 0x81 | 0x8D | 0x8F | 0x90 | 0x9D);
    if some_utf8 || bytes.iter().any(unused) {
        return Err(refused);
    }
    let mut detector = EncodingDetector::new(Iso2022JpDetection::Deny);
    detector.feed(bytes, true);
    let guess = detector.guess(None, Utf8Detection::Deny);
    if guess != WINDOWS_1252 {
        let reason = format!("{}, and looks like {}; {ADVICE}", not_utf8(&refused), guess.name());
        return Err(Problem { reason, ..refused });
    }
    let (text, _) = WINDOWS_1252.decode_without_bom_handling(bytes);
    Ok((text.into_owned(), Charset::Windows1252))
}

fn not_utf8(refused: &Problem) -> &str {
    refused.reason.split(';').next().unwrap_or_default()
}

/// The line, and the place in it, of what comes after a text; both from 1.
fn place(before: &str) -> (u64, u64) {
    let lines = super::reading::lines(before);
    let last = before.rsplit(['\n', '\r']).next().unwrap_or_default();
    (lines, u64::try_from(last.chars().count()).unwrap_or(u64::MAX).saturating_add(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utf16_bytes(text: &str, little: bool) -> Vec<u8> {
        let unit = |unit: u16| if little { unit.to_le_bytes() } else { unit.to_be_bytes() };
        text.encode_utf16().flat_map(unit).collect()
    }

    #[test]
    fn each_way_to_write_an_accent_is_read() {
        let text = "name,shots\r\nZoé,3\r\n";
        let check = |bytes: Vec<u8>, charset: Charset| {
            assert_eq!(text_of(&bytes), Ok((text.to_owned(), charset)), "{bytes:?}");
        };
        check(text.as_bytes().to_vec(), Charset::Utf8);
        check([b"\xEF\xBB\xBF", text.as_bytes()].concat(), Charset::Utf8);
        check(utf16_bytes(text, true), Charset::Utf16Le);
        check(utf16_bytes(text, false), Charset::Utf16Be);
        check([&b"\xFF\xFE"[..], &utf16_bytes(text, true)].concat(), Charset::Utf16Le);
        check([&b"\xFE\xFF"[..], &utf16_bytes(text, false)].concat(), Charset::Utf16Be);
        check(b"name,shots\r\nZo\xE9,3\r\n".to_vec(), Charset::Windows1252);
    }

    #[test]
    fn what_is_not_certain_is_refused_at_its_place() {
        let check = |bytes: &[u8], line: u64, character: u64, words: &str| {
            let refused = text_of(bytes).unwrap_err();
            assert_eq!((refused.line, refused.character), (line, Some(character)), "{bytes:?}");
            assert!(refused.reason.contains(words), "{}", refused.reason);
        };
        // One letter in UTF-8 and another that is not.
        check(
            "name\nZoé\nR".bytes().chain([0xE9, b'n']).collect::<Vec<_>>().as_slice(),
            3,
            2,
            "0xE9",
        );
        check(b"name\rZo\x81", 2, 3, "0x81");
        check(b"\xEF\xBB\xBFname\nZo\xE9", 2, 3, "0xE9");
        check(&[&utf16_bytes("name\nZo", true)[..], &[0x00]].concat(), 2, 3, "UTF-16");
        check(
            &[&utf16_bytes("name\nZo", true)[..], &[0x00, 0xD8, 0x41, 0]].concat(),
            2,
            3,
            "UTF-16",
        );
        // "Вячеслав" in Windows-1251 would be "Âÿ÷åñëàâ" in Windows-1252.
        let russian =
            b"name\n\xC2\xFF\xF7\xE5\xF1\xEB\xE0\xE2 \xEB\xF3\xEA \xF2\xE5\xF2\xE8\xE2\xE0\n";
        check(russian, 2, 1, "windows-1251");
    }
}
