import { expect, test } from "vitest";
import { characteristicText, measuredText } from "../../station/records/attempt-text.ts";
import { outcome } from "./example-attempt.ts";

test("a value just beyond its limit is shown with the digits that tell it from the limit", () => {
  expect(measuredText(60.004, 1.7, "mL/min", [60])).toBe("60.004 ± 1.7 mL/min");
  expect(measuredText(60.04, 1.7, "mL/min", [60])).toBe("60.04 ± 1.7 mL/min");
});

test("a verdict that was certain before the end says when it was, and one measured to the end does not", () => {
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("no characteristic");
  const told = (early: boolean) =>
    characteristicText({
      ...leak,
      value: 6.2,
      expanded_uncertainty: 27.1,
      how: {
        method: "fitted",
        from_s: 0.3,
        to_s: 6.284,
        samples: 400,
        left_out: 0,
        looks: { taken: 17, at_s: 12.4, early },
      },
    });
  expect(told(true)).toBe(
    "leak rate: 6 ± 27 mL/min, at most 60 mL/min: pass, early: sure 6.3 s after the fill, at look 17",
  );
  expect(told(false)).toBe("leak rate: 6 ± 27 mL/min, at most 60 mL/min: pass");
});
