/**
 * The candidate a mistyped word most likely meant: the same letters in another case first, else the one with the
 * fewest edits, at most two and fewer than half of the word.
 */
export function nearest(word: string, candidates: readonly string[]): string | undefined {
  const folded = word.toLowerCase();
  const sameLetters = candidates.find((candidate) => candidate.toLowerCase() === folded);
  if (sameLetters !== undefined) return sameLetters === word ? undefined : sameLetters;
  let best: string | undefined;
  let fewest = Math.min(2, Math.floor((word.length - 1) / 2));
  for (const candidate of candidates) {
    if (Math.abs(candidate.length - word.length) > fewest) continue;
    const edits = editDistance(folded, candidate.toLowerCase());
    if (edits < fewest || (edits === fewest && best === undefined && edits > 0)) {
      best = candidate;
      fewest = edits;
    }
  }
  return best;
}

/** Levenshtein distance with swapped neighbours counted as one edit (optimal string alignment). */
function editDistance(a: string, b: string): number {
  let beforeLast: number[] = [];
  let last = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let edits = Math.min((last[j] ?? 0) + 1, (row[j - 1] ?? 0) + 1, (last[j - 1] ?? 0) + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        edits = Math.min(edits, (beforeLast[j - 2] ?? 0) + 1);
      }
      row.push(edits);
    }
    beforeLast = last;
    last = row;
  }
  return last[b.length] ?? 0;
}
