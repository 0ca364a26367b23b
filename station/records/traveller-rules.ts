/** What a traveller's `format` says; a reader that meets another one must not guess. */
export const TRAVELLER_FORMAT = "drumtight/traveller/1";

/** A traveller's members, as `Traveller` has them, for who must not load its schema; a test holds both together. */
export const TRAVELLER_MEMBERS: ReadonlySet<string> = new Set(
  "airflow ambient attempt calibrations chain characteristics curves draft duration_s ended_at format gauges id kind limit_file model parts phases reasons reference reference_check retest_reason serial started_at station study suspects verdict who".split(
    " ",
  ),
);

/** An instant, as the schema's `Instant` wants it; a test holds both together. */
export const INSTANT =
  /^(?:(?:\d\d[2468][048]|\d\d[13579][26]|\d\d0[48]|[02468][048]00|[13579][26]00)-02-29|\d{4}-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12]\d|3[01])|(?:0[469]|11)-(?:0[1-9]|[12]\d|30)|(?:02)-(?:0[1-9]|1\d|2[0-8])))T(?:(?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d\.\d{3}(?:Z))$/;

interface Judged {
  readonly draft: boolean;
  readonly study?: unknown;
  readonly kind: "unit" | "reference";
  readonly verdict: "pass" | "fail" | "void";
  readonly reasons: readonly unknown[];
  readonly ended_at: string | null;
  readonly duration_s: number | null;
  readonly characteristics: readonly { readonly verdict: string }[];
  readonly suspects?: readonly unknown[] | undefined;
  readonly reference?: { readonly measured: number | null; readonly conforms: boolean } | undefined;
}

/** What no traveller may say, whatever wrote it: above all a pass that nothing measured stands behind. */
export function* contradictions(it: Judged): Generator<[path: string, message: string]> {
  const { verdict, reference } = it;
  if (it.study !== undefined && !it.draft) yield ["draft", "an attempt for a study never counts"];
  if ((it.kind === "reference") !== (reference !== undefined)) {
    yield ["reference", "a reference attempt, and no other, names its reference piece"];
  }
  if (verdict !== "pass" && it.reasons.length === 0)
    yield ["reasons", "a verdict other than pass has a reason"];
  if (verdict === "pass" && it.reasons.length > 0) yield ["reasons", "nothing stands against a pass"];
  if ((it.ended_at === null) !== (it.duration_s === null))
    yield ["duration_s", "an end has a time and a duration"];
  if (verdict !== "fail" && (it.suspects?.length ?? 0) > 0)
    yield ["suspects", "only a failed unit is suspected of something"];
  if (it.ended_at === null && verdict !== "void") yield ["ended_at", "an attempt that was judged has ended"];
  if (reference !== undefined) {
    if (reference.conforms && reference.measured === null) {
      yield ["reference", "a reference piece that was not measured can't conform"];
    }
    if ((verdict === "pass") !== reference.conforms)
      yield ["verdict", "a reference attempt passes if the piece conforms"];
  } else if (verdict === "pass") {
    if (it.characteristics.length === 0) yield ["verdict", "a pass has at least one measured characteristic"];
    if (it.characteristics.some((one) => one.verdict !== "pass")) {
      yield ["verdict", "a pass has no characteristic that did not pass"];
    }
  }
}
