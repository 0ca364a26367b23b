/** The plant's calendar day, as people write it in the files. */
export function calendarDate(wall_ms: number): string {
  const date = new Date(wall_ms);
  const two = (part: number) => String(part).padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}
