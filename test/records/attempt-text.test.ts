import { expect, test } from "vitest";
import { measuredText } from "../../station/records/attempt-text.ts";

test("a value just beyond its limit is shown with the digits that tell it from the limit", () => {
  expect(measuredText(60.004, 1.7, "mL/min", [60])).toBe("60.004 ± 1.7 mL/min");
  expect(measuredText(60.04, 1.7, "mL/min", [60])).toBe("60.04 ± 1.7 mL/min");
});
