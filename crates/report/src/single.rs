//! What the pages of single commands have in common: the frame around their body.

use crate::charts::escape;
use crate::html::body::{Body, worded};

const CSS: &str = include_str!("../assets/page.css");

/// The head of a page: what it is, and its answer in a sentence.
pub(crate) struct Head<'a> {
    pub(crate) title: &'a str,
    pub(crate) lead: &'a str,
    pub(crate) question: &'a str,
    pub(crate) answer: &'a str,
    pub(crate) qualify: &'a str,
}

/// A page of HTML that needs nothing else; `body` begins with a section.
pub(crate) fn page(head: &Head<'_>, body: Body) -> String {
    let title = escape(head.title);
    let [lead, question, answer, qualify] = [head.lead, head.question, head.answer, head.qualify].map(worded);
    format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><meta name=\"robots\" content=\"noindex\">\
         <title>{title}</title><link rel=\"icon\" href=\"data:,\"><style>{CSS}</style></head>\n<body><div class=\"page\">\n\
         <header class=\"masthead\"><h1>{title}</h1><p class=\"lead\">{lead}</p></header>\n\
         <div class=\"answer\" role=\"region\" aria-labelledby=\"answer\"><h2 id=\"answer\">{question}</h2><p class=\"sentence\">{answer}</p><p class=\"qualify\">{qualify}</p></div>\n\
         <main>\n{}</main></div></body></html>\n",
        body.into_sections()
    )
}
