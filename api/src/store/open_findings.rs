//! Findings about a place that nobody has settled.

use super::StoreError;
use super::columns::PlaceNumber;
use super::flush::Rare;
use super::sql;
use super::statement::Bind;
use super::tx::Tx;

impl Tx<'_> {
    /// Entry and code of every open finding about a place, those of this batch as well.
    pub fn open_findings_of(
        &mut self,
        place: PlaceNumber,
    ) -> Result<Vec<(u64, String)>, StoreError> {
        let binds = [Bind::Int(self.book.org), Bind::Int(place.0)];
        let rows: Vec<(i64, String)> = self.db.rows(sql::OpenFindingsOfPlace, &binds)?;
        let stored = rows
            .into_iter()
            .map(|(seq, code)| (seq.unsigned_abs(), code));
        let mut open: Vec<(u64, String)> = stored.collect();
        for row in &self.book.pending.rare {
            match row {
                Rare::Finding {
                    seq,
                    code,
                    place: about,
                    ..
                } if *about == place => open.push((*seq, code.clone())),
                Rare::Settled { seq, code, .. } => {
                    open.retain(|(of, known)| (of, known) != (seq, code));
                }
                _ => {}
            }
        }
        Ok(open)
    }
}
