//! The look of all pages: one sheet, served by ourselves, since nothing else may be loaded.

use actix_web::{HttpResponse, get, http::header};

use crate::paging::{NoQuery, Query};

const SHEET: &str = include_str!("../../templates/style.css");

/// The style sheet of the pages.
#[utoipa::path(
    operation_id = "page_style",
    tag = "operation",
    responses((status = 200, description = "The sheet", content_type = "text/css")),
    security(())
)]
#[get("/pages/style.css")]
pub(crate) async fn page_style(_none: Query<NoQuery>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/css; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "public, max-age=3600"))
        .body(SHEET)
}

#[cfg(test)]
mod tests {
    use super::SHEET;

    /// The relative luminance of a colour such as `#1d2420` (WCAG 2.2, "relative luminance").
    fn luminance(colour: &str) -> f64 {
        let part = |at: usize| {
            let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    }

    /// WCAG 2.2, "contrast ratio".
    fn contrast(one: &str, other: &str) -> f64 {
        let (one, other) = (luminance(one), luminance(other));
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    #[test]
    fn text_can_be_read_by_day_and_by_night() {
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
        let palettes: Vec<&str> = SHEET.split(":root {").skip(1).collect();
        assert_eq!(palettes.len(), 2, "one light and one dark");
        for palette in palettes {
            let colour = |name: &str| {
                let (_, rest) = palette.split_once(&format!("--{name}: ")).unwrap();
                rest.split(';').next().unwrap()
            };
            for (text, ground, least) in [
                ("ink", "paper", 7.0),
                ("quiet", "paper", 7.0),
                ("stop", "paper", 7.0),
                ("on-key", "key", 7.0),
                ("key", "paper", 3.0),
                ("line", "paper", 3.0),
                ("serving", "paper", 3.0),
            ] {
                let found = contrast(colour(text), colour(ground));
                assert!(found >= least, "{text} on {ground}: {found}");
            }
        }
    }
}
