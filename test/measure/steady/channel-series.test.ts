import { describe, expect, it } from "vitest";
import { ChannelSeries } from "../../../station/measure/steady/channel-series.ts";

function seriesOf(...values: readonly number[]): ChannelSeries {
  const series = new ChannelSeries();
  for (const [k, value] of values.entries()) series.add(k / 20, value);
  return series;
}

const isHigh = (value: number) => value > 5;

describe("the newest readings of a channel", () => {
  it("end in a row of so many only when each of these is so, and there are so many", () => {
    expect(seriesOf(1, 9, 9, 9).endsIn(3, isHigh)).toBe(true);
    expect(seriesOf(9, 1, 9, 9).endsIn(3, isHigh)).toBe(false);
    expect(seriesOf(9, 9, 9, 1).endsIn(3, isHigh)).toBe(false);
    expect(seriesOf(9, 9, 9).endsIn(3, isHigh)).toBe(true);
    expect(seriesOf(9, 9).endsIn(3, isHigh)).toBe(false);
  });

  it("are the last so many in order, or all of a shorter series", () => {
    expect(seriesOf(1, 2, 3, 4).last(3)).toEqual([2, 3, 4]);
    expect(seriesOf(1, 2).last(3)).toEqual([1, 2]);
    expect(seriesOf().last(3)).toEqual([]);
  });
});
