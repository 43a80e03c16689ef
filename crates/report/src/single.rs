//! What the pages of single commands have in common: the frame around their body, and charts as pictures in it.

use std::fmt::Write as _;

use crate::charts::escape;

const CSS: &str = include_str!("../assets/page.css");

/// A page of HTML that needs nothing else, around `body`, which is markup already.
pub(crate) fn page(title: &str, body: &str) -> String {
    format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><meta name=\"robots\" content=\"noindex\"><title>{}</title><link rel=\"icon\" href=\"data:,\"><style>{CSS}</style></head>\n<body><div class=\"page\">\n{body}</div></body></html>\n",
        escape(title)
    )
}

/// Text as a URL holds it.
pub(crate) fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len() * 2);
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z'
            | b'a'..=b'z'
            | b'0'..=b'9'
            | b'-'
            | b'_'
            | b'.'
            | b'~'
            | b' '
            | b'='
            | b'/'
            | b':'
            | b','
            | b';'
            | b'('
            | b')' => {
                out.push(char::from(byte));
            }
            _ => {
                let _ = write!(out, "%{byte:02X}");
            }
        }
    }
    out
}
