/**
 * A part of a whole for people. It never says 100 % or 0 % of what is not all or nothing.
 * @param value 0 to 1; null where there is no whole
 * @example percentText(0.92052) // "92.1 %"; percentText(0.99996) // "99.996 %"
 */
export function percentText(value: number | null): string {
  if (value === null) return "-";
  for (let digits = 1; digits <= 8; digits++) {
    const text = (100 * value).toFixed(digits);
    const isWhole = Number(text) === 100 || Number(text) === 0;
    if (!isWhole || value === 0 || value === 1) return `${text} %`;
  }
  return `${value < 0.5 ? "> 0" : "< 100"} %`;
}

/** @example spanText(0.866, 0.958) // "86.6 to 95.8 %" */
export function spanText(lower: number | null, upper: number | null): string {
  if (lower === null || upper === null) return "-";
  return `${percentText(lower).replace(/ %$/, "")} to ${percentText(upper)}`;
}

/** @example durationText(754) // "12 min 34 s"; durationText(7500) // "2 h 05 min" */
export function durationText(seconds: number): string {
  const whole = Math.round(seconds);
  const two = (value: number) => String(value).padStart(2, "0");
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${two(whole % 60)} s`;
  const minutes = Math.round(whole / 60);
  return `${Math.floor(minutes / 60)} h ${two(minutes % 60)} min`;
}

/** @example countText(1, "unit") // "1 unit"; countText(12057, "test") // "12,057 tests" */
export function countText(count: number, noun: string): string {
  return `${count.toLocaleString("en-GB")} ${noun}${count === 1 ? "" : "s"}`;
}
