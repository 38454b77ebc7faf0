//! Reads a form off one of our own pages, as a browser would before it is filled in.
//!
//! Not a parser for any page: ours quote every attribute and close every element.

/// A form's fields as the page proposes them, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PaperForm {
    fields: Vec<(String, String)>,
}

impl PaperForm {
    /// The form of the page that posts to `action`.
    pub fn find(html: &str, action: &str) -> Option<Self> {
        let opening = tags(html).find(|tag| {
            tag.name == "form"
                && tag.get("method").as_deref() == Some("post")
                && tag.get("action").as_deref() == Some(action)
        })?;
        let inside = &html[opening.end..];
        let inside = &inside[..inside.find("</form>")?];
        let mut form = Self::default();
        let mut list: Option<(String, Option<String>, bool)> = None;
        for tag in tags(inside) {
            match tag.name {
                "input" => form.take_input(&tag),
                "textarea" => {
                    let text = inside[tag.end..].split("</textarea>").next().unwrap_or_default();
                    // a browser drops the first newline
                    let text = text.strip_prefix('\n').unwrap_or(text);
                    form.put(tag.get("name"), plain(text));
                }
                "select" => list = tag.get("name").map(|name| (name, None, false)),
                "option" => {
                    if let Some((_, chosen, certain)) = &mut list {
                        let selected = tag.has("selected");
                        if selected || (chosen.is_none() && !*certain) {
                            *chosen = tag.get("value");
                            *certain = selected;
                        }
                    }
                }
                "/select" => {
                    if let Some((name, chosen, _)) = list.take() {
                        form.put(Some(name), chosen.unwrap_or_default());
                    }
                }
                _ => {}
            }
        }
        Some(form)
    }

    fn take_input(&mut self, tag: &Tag<'_>) {
        let kind = tag.get("type").unwrap_or_default();
        let choosing = kind == "checkbox" || kind == "radio";
        if kind == "file" || (choosing && !tag.has("checked")) {
            return;
        }
        let unset = if choosing { "on" } else { "" };
        self.put(tag.get("name"), tag.get("value").unwrap_or_else(|| unset.to_owned()));
    }

    fn put(&mut self, name: Option<String>, value: String) {
        if let Some(name) = name {
            self.fields.push((name, value));
        }
    }

    /// Fills a field in; an empty value empties it or takes a tick away.
    pub fn fill(&mut self, name: &str, value: &str) {
        self.fields.retain(|(field, _)| field != name);
        if !value.is_empty() {
            self.fields.push((name.to_owned(), value.to_owned()));
        }
    }

    /// Its fields in order, for a form that carries a file as well.
    pub fn fields(&self) -> &[(String, String)] {
        &self.fields
    }

    /// As a browser sends it.
    pub fn body(&self) -> String {
        form_urlencoded::Serializer::new(String::new()).extend_pairs(&self.fields).finish()
    }
}

/// The words of a page's `main`, tags left out: for messages about what was refused.
pub fn words(html: &str) -> String {
    let main = html.split("<main").nth(1).unwrap_or(html);
    let mut words = String::new();
    for piece in main.split('<').skip(1) {
        words.push_str(piece.split_once('>').map_or("", |(_, text)| text));
        words.push(' ');
    }
    plain(&words).split_whitespace().collect::<Vec<_>>().join(" ")
}

struct Tag<'a> {
    name: &'a str,
    attributes: &'a str,
    /// Where it ends in the text.
    end: usize,
}

impl Tag<'_> {
    fn get(&self, name: &str) -> Option<String> {
        let start = self.attributes.find(&format!(" {name}=\""))? + name.len() + 3;
        let value = &self.attributes[start..];
        Some(plain(&value[..value.find('"')?]))
    }

    fn has(&self, name: &str) -> bool {
        self.attributes.split_whitespace().any(|word| word == name)
    }
}

fn tags(html: &str) -> impl Iterator<Item = Tag<'_>> {
    let mut at = 0;
    std::iter::from_fn(move || {
        let start = at + html[at..].find('<')? + 1;
        // an attribute's value may hold a >
        let mut quoted = false;
        let end = start
            + html[start..].find(|c| {
                quoted ^= c == '"';
                c == '>' && !quoted
            })?;
        at = end + 1;
        let inside = &html[start..end];
        let (name, attributes) = inside.split_at(inside.find(char::is_whitespace).unwrap_or(inside.len()));
        Some(Tag { name, attributes, end: at })
    })
}

/// Text with its character references read.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let known = rest.find(';').and_then(|end| {
            let name = &rest[1..end];
            let number = name
                .strip_prefix("#x")
                .map(|hex| u32::from_str_radix(hex, 16))
                .or_else(|| name.strip_prefix('#').map(str::parse));
            let character = match name {
                "amp" => Some('&'),
                "lt" => Some('<'),
                "gt" => Some('>'),
                "quot" => Some('"'),
                _ => number.and_then(Result::ok).and_then(char::from_u32),
            };
            character.map(|character| (character, end + 1))
        });
        let (character, length) = known.unwrap_or(('&', 1));
        out.push(character);
        rest = &rest[length..];
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: &str = r#"<form method="get" action="/a"><input name="no" value="1"></form>
        <form method="post" action="/a"><input type="hidden" name="version" value="3">
        <input id="x" type="text" name="paper" value="4 &#x2F; 5 &quot;in&quot;"> <input type="checkbox" name="own" value="1">
        <input type="checkbox" name="dry" checked><input type="radio" name="sky" value="a"><input type="radio" name="sky" value="b" checked>
        <select name="line"><option value="1">One</option><option value="2" selected>Two > one</option></select>
        <select name="first"><option value="x">X</option><option value="y">Y</option></select>
        <textarea name="remark">
a &lt; b</textarea><button name="go" value="1">Go</button></form>"#;

    #[test]
    fn a_form_is_read_as_a_browser_would_send_it() {
        let form = PaperForm::find(PAGE, "/a").expect("the form that posts");
        let fields: Vec<_> = form.fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        assert_eq!(
            fields,
            [
                ("version", "3"),
                ("paper", "4 / 5 \"in\""),
                ("dry", "on"),
                ("sky", "b"),
                ("line", "2"),
                ("first", "x"),
                ("remark", "a < b"),
            ]
        );
        assert_eq!(PaperForm::find(PAGE, "/b"), None);
    }

    #[test]
    fn filling_in_replaces_and_unticks() {
        let mut form = PaperForm::find(PAGE, "/a").expect("the form");
        form.fill("sky", "a");
        form.fill("dry", "");
        assert!(form.body().contains("sky=a") && !form.body().contains("dry="), "{}", form.body());
    }

    #[test]
    fn a_pages_words_are_told_without_its_tags() {
        assert_eq!(words("<nav>x</nav><main id=\"main\"><p>not <b>saved</b> &amp; why</p>"), "not saved & why");
    }
}
