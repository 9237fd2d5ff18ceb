//! The types of problems: one table with status, title and the help that stands under its address.

/// A type of problem. Its slug is stable for ever.
#[derive(Debug)]
pub struct Kind {
    /// The last part of its address.
    pub slug: &'static str,
    /// The status it is answered with.
    pub status: u16,
    /// What it is called.
    pub title: &'static str,
    /// What it means and what to do, in plain words.
    pub help: &'static str,
}

impl Kind {
    /// Its address, which is also its help page.
    pub fn path(&self) -> String {
        format!("/problems/{}", self.slug)
    }
}

/// The type with this slug; a slug that is none is a fault of ours.
pub fn named(slug: &str) -> &'static Kind {
    let known = KINDS.iter().find(|kind| kind.slug == slug);
    debug_assert!(known.is_some(), "no problem type {slug}");
    known.unwrap_or(&KINDS[0])
}

macro_rules! kinds {
    ($($slug:literal $status:literal $title:literal $help:literal)+) => {
        &[$(Kind { slug: $slug, status: $status, title: $title, help: $help }),+]
    };
}

/// All types; the first is what a fault of ours is answered with.
pub const KINDS: &[Kind] = kinds! {
    "failure" 500 "Something failed here"
        "A fault of the service, not of the request. Its log holds the cause under the request_id of \
         the answer. Sending the same entry again books nothing twice."
    "malformed" 400 "Not of the shape that is read here"
        "The body is no JSON, or a member has another type than the one described, or it nests \
         deeper than 32 levels. errors names the place by a JSON Pointer. Numbers that are measured \
         travel as text in quotes. Nothing was booked."
    "missing-id" 400 "No entry_id"
        "Every entry carries an entry_id: a UUID that the client makes and keeps before it sends. \
         With it a request whose answer was lost can be sent again and books nothing twice."
    "not-signed-in" 401 "Nobody is signed in"
        "The request shows no session and no token, or one that has ended or was revoked. Sign in \
         with POST /api/v1/sessions, or send Authorization: Bearer with a token. What was captured \
         meanwhile is kept by the client and sent after signing in."
    "code-needed" 401 "A code is asked for"
        "The password is right and a second factor is set up. Send the six digits of the \
         authenticator app, or a recovery code, with POST /api/v1/sessions/code and the cookie of this \
         answer, within ten minutes. Each code is taken once; after five wrong ones begin again with \
         the password."
    "factor-needed" 401 "A second factor is asked for"
        "The organisation asks for a second factor and this person has none yet. Set it up on the page \
         /me/factor, or with POST /api/v1/second-factor and its code; until then nothing else is \
         answered. What was captured meanwhile is kept by the client and sent after that."
    "forbidden" 403 "Not for this role"
        "Who is signed in may not do this; the detail says which role may. Also answered to a \
         request of another site that borrows a browser's session."
    "not-found" 404 "Not in this book"
        "Nothing with this id or tag is in the book of the organisation that is signed in. Check the \
         spelling; register the thing first if it is new."
    "not-allowed" 405 "Not with this method"
        "The address is right, the method is not; the header Allow names those that are. What is \
         booked is never changed or removed: post a correction."
    "timed-out" 408 "The request took too long"
        "The whole request must arrive within 30 seconds. Send it again; an entry_id is booked once."
    "in-progress" 409 "Being booked at this moment"
        "An entry with the same entry_id is being booked. Send the same request again in a second: \
         the answer is the first booking's."
    "already-corrected" 409 "Corrected already"
        "An entry is corrected at most once; the newest entry of its chain can be corrected next. \
         The answer names it."
    "stale-version" 412 "Changed meanwhile"
        "Somebody changed the thing since it was read. The answer holds it as it is now, in current, \
         and its ETag. Compare, and send the change again with that ETag in If-Match."
    "too-large" 413 "Too large"
        "A body has at most 256 KiB, a list 500 entries, an entry 16 KiB in the book. Divide it."
    "unsupported-encoding" 415 "Not in this encoding"
        "Bodies are application/json in UTF-8, without Content-Encoding. Compressed bodies are \
         refused."
    "invalid-value" 422 "A value that cannot be taken"
        "A member holds something outside of what it takes. errors names the place; the detail says \
         what was expected, what came and what to do. Nothing was booked."
    "unknown-field" 422 "A member nobody knows"
        "The request holds a member that is not known at that place. It may be misspelt; the detail \
         lists those that are known. Nothing was booked, so nothing is lost in silence."
    "id-reused" 422 "The entry_id belongs to another entry"
        "This entry_id is booked with other content; the detail names the member that differs. What a \
         repeat states is compared: kind, day, places, refrigerant, exact mass, visit, person, texts; \
         what it leaves out is as it was the first time. Make a new id for a new fact; correct the \
         entry that is named if it was wrong."
    "needs-answer" 422 "A question first"
        "Something looks like a slip. Each of questions has a code, a text and choices with what \
         each would book. Send the same request again with answers, for example {\"rate_jump\": \
         \"as_stated\"}. The answer is kept with the entry. Nothing was booked yet."
    "hard-stop" 422 "Stop before pouring"
        "This must not be poured: it would mix refrigerants, fill a cylinder that must not be \
         filled, take from a mixture, or move one owner's refrigerant to another. If it has happened already, send the \
         same request with answers, for example {\"mixing\": \"already_happened\"}: a fact is never \
         refused, but the cylinder is put under quarantine and the manager is told. Some stops a \
         compliance manager can lift with a written reason."
    "held" 424 "Held behind an earlier item"
        "An earlier item of the same list about the same appliance or cylinder was refused. This one \
         was not booked, so that the order of work is kept. Put the earlier one right and send both \
         again."
    "version-required" 428 "Which version is changed?"
        "A change names the version it changes: send the ETag of the thing in If-Match. So nobody \
         overwrites what somebody else changed meanwhile."
    "too-many" 429 "Too many"
        "Too many attempts or requests. Wait as many seconds as the header Retry-After says."
    "clock" 503 "The clock cannot be trusted"
        "Writing has stopped because the clock of the book stands wrong; entries would be dated \
         wrongly for ever. Whoever keeps the service sets it right. Keep what was captured and send \
         it again later."
    "unavailable" 503 "The book cannot be reached"
        "The database does not answer or too much waits for it. Wait as many seconds as the header \
         Retry-After says and send the same request again: an entry_id is booked once."
};

#[cfg(test)]
mod tests {
    use super::*;

    /// The statuses of the specification: RFC 9110 and RFC 6585 (428, 429), RFC 4918 (422, 424).
    #[test]
    fn slugs_are_unique_and_statuses_are_those_of_errors() {
        for (at, kind) in KINDS.iter().enumerate() {
            assert!((400..600).contains(&kind.status), "{}", kind.slug);
            assert!(
                KINDS[..at].iter().all(|other| other.slug != kind.slug),
                "{}",
                kind.slug
            );
            let plain = kind
                .slug
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b == b'-');
            assert!(plain && kind.help.ends_with('.'), "{}", kind.slug);
        }
    }
}
