const FORM =
  /^(?<sign>[+-]?)(?<whole>\d+)(?:\.(?<decimals>\d+))?(?:(?<e>[eE])(?<eSign>[+-]?)(?<eDigits>\d+))?$/;

interface Form {
  readonly sign: string;
  readonly whole: string;
  readonly decimals: string | undefined;
  readonly e: string | undefined;
  readonly eSign: string | undefined;
  readonly eDigits: string | undefined;
}

/**
 * A pattern for a number that is always written in one form: as many decimals, as many digits where zeros fill it up.
 * A digit lost on the wire then makes the line a wrong one, and not another value. Where the form changes,
 * `{number}`, any number there is.
 * @example numberPattern(["-0798.42", "+0012.00"]) // "[+-]\\d{4}\\.\\d{2}"
 * @example numberPattern(["7", "1e3"]) // "{number}"
 */
export function numberPattern(texts: readonly string[]): string {
  const forms = texts.flatMap((text) => {
    const groups = FORM.exec(text)?.groups;
    return groups ? [groups as unknown as Form] : [];
  });
  const [first] = forms;
  if (!first || forms.length < texts.length) return "{number}";
  const hasOneForm = forms.every(
    ({ decimals, e, eSign, eDigits }) =>
      decimals?.length === first.decimals?.length &&
      e === first.e &&
      (eSign === "") === (first.eSign === "") &&
      eDigits?.length === first.eDigits?.length,
  );
  if (!hasOneForm) return "{number}";
  const decimals = first.decimals === undefined ? "" : `\\.\\d{${first.decimals.length}}`;
  const exponent =
    first.e === undefined
      ? ""
      : `${first.e}${first.eSign === "" ? "-?" : "[+-]"}\\d{${first.eDigits?.length}}`;
  return `${signPattern(forms)}${wholePattern(forms)}${decimals}${exponent}`;
}

function signPattern(forms: readonly Form[]): string {
  if (forms.every(({ sign }) => sign !== ""))
    return forms.some(({ sign }) => sign === "+") ? "[+-]" : "[+-]?";
  return forms.some(({ sign }) => sign === "+") ? "[+-]?" : "-?";
}

/** Filled up with zeros: always as many. */
function wholePattern(forms: readonly Form[]): string {
  const [first] = forms;
  const length = first?.whole.length ?? 1;
  const isFilled =
    forms.every(({ whole }) => whole.length === length) &&
    (first?.e !== undefined || (length > 1 && forms.some(({ whole }) => whole.startsWith("0"))));
  return isFilled ? `\\d{${length}}` : "\\d+";
}
