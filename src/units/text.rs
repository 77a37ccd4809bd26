//! Reading text from left to right, and saying where it stopped making sense.

/// Text that could not be read: what was expected, what was found, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TextError {
    text: String,
    at: usize,
    expected: String,
}

impl TextError {
    /// The error that `expected` was not found at the byte `at` of `text`.
    #[must_use]
    pub fn new(text: &str, at: usize, expected: impl Into<String>) -> Self {
        Self { text: text.to_owned(), at, expected: expected.into() }
    }

    /// What would have been right at this place.
    #[must_use]
    pub fn expected(&self) -> &str {
        &self.expected
    }

    /// The text as given.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The place, counted in characters from 1.
    #[must_use]
    pub fn character(&self) -> usize {
        self.text[..self.at].chars().count() + 1
    }
}

impl std::fmt::Display for TextError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let rest: String = self.text[self.at..].chars().take(24).collect();
        if rest.is_empty() {
            write!(f, "expected {}, but \"{}\" ends there", self.expected, self.text)
        } else {
            write!(
                f,
                "expected {}, found \"{rest}\" at character {} of \"{}\"",
                self.expected,
                self.character(),
                self.text
            )
        }
    }
}

impl std::error::Error for TextError {}

/// A place in a text that moves to the right as things are read.
#[derive(Debug, Clone, Copy)]
pub struct Scanner<'t> {
    text: &'t str,
    at: usize,
}

impl<'t> Scanner<'t> {
    /// Starts at the beginning of the text.
    #[must_use]
    pub fn new(text: &'t str) -> Self {
        Self { text, at: 0 }
    }

    /// What has not been read yet.
    #[must_use]
    pub fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    /// The place in bytes, for going back with [`Scanner::go_to`].
    #[must_use]
    pub fn at(&self) -> usize {
        self.at
    }

    /// Goes back to a place that [`Scanner::at`] gave.
    pub fn go_to(&mut self, at: usize) {
        self.at = at;
    }

    /// Passes over spaces of any kind.
    pub fn skip_spaces(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    /// The next character, without reading it.
    #[must_use]
    pub fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    /// Reads one of these words if it comes next, ignoring the case of ASCII letters; the longest wins.
    pub fn take_any(&mut self, words: &[&str]) -> bool {
        let rest = self.rest();
        let longest = words
            .iter()
            .filter(|word| rest.get(..word.len()).is_some_and(|head| head.eq_ignore_ascii_case(word)))
            .map(|word| word.len())
            .max();
        self.at += longest.unwrap_or(0);
        longest.is_some()
    }

    /// Reads as long as the characters satisfy `wanted`.
    pub fn take_while(&mut self, wanted: impl Fn(char) -> bool) -> &'t str {
        let rest = self.rest();
        let end = rest.find(|c| !wanted(c)).unwrap_or(rest.len());
        self.at += end;
        &rest[..end]
    }

    /// Whether everything has been read, spaces aside.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.rest().trim().is_empty()
    }

    /// The error that `expected` was not found at this place.
    pub fn error(&self, expected: impl Into<String>) -> TextError {
        TextError::new(self.text, self.at, expected)
    }

    /// Nothing may be left.
    ///
    /// # Errors
    /// If something is.
    pub fn finish(&mut self) -> Result<(), TextError> {
        self.skip_spaces();
        if self.is_done() { Ok(()) } else { Err(self.error("the end")) }
    }
}
