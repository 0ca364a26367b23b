import { describe, expect, it } from "vitest";
import { connectedFixture as connected } from "./connected-fixture.ts";

describe("the start button", () => {
  it("starts when it is pressed after the unit was armed, once for each press", async () => {
    const { clock, plant, fixture, told } = await connected();
    fixture.expectStart();
    await clock.advance_s(1);
    plant.pressStart();
    await clock.advance_s(1);
    expect(told.presses).toBe(1);
    plant.pressStart();
    await clock.advance_s(1);
    expect(told).toMatchObject({ presses: 2, stuck: [] });
  });

  it("starts nothing before a unit is armed", async () => {
    const { clock, plant, told } = await connected();
    await clock.advance_s(1);
    plant.pressStart();
    await clock.advance_s(1);
    expect(told.presses).toBe(0);
  });

  it("starts nothing when it was down already as the unit was armed, until it has been let go of", async () => {
    const { clock, plant, fixture, told, stick } = await connected();
    stick(true);
    await clock.advance_s(0.5);
    fixture.expectStart();
    await clock.advance_s(2);
    expect(told.presses).toBe(0);
    expect(fixture.startRefusal()?.code).toBe("START_BUTTON_STUCK");
    stick(false);
    await clock.advance_s(0.5);
    expect(fixture.startRefusal()).toBeNull();
    expect(told.presses).toBe(0);
    plant.pressStart();
    await clock.advance_s(0.5);
    expect(told.presses).toBe(1);
  });

  it("starts nothing by a press that may have begun before the unit was armed", async () => {
    const { clock, plant, fixture, told } = await connected();
    await clock.advance_s(1);
    // Between two looks at the inputs: the next one sees both at once.
    plant.pressStart();
    fixture.expectStart();
    await clock.advance_s(2);
    expect(told.presses).toBe(0);
  });

  it("is called stuck after five seconds, again every five seconds, and no more once it is up", async () => {
    const { clock, told, stick } = await connected();
    await clock.advance_s(1);
    stick(true);
    await clock.advance_s(4.9);
    expect(told.stuck).toEqual([]);
    await clock.advance_s(0.3);
    expect(told.stuck).toMatchObject([{ code: "START_BUTTON_STUCK", instrument: "io_block" }]);
    expect(told.stuck[0]?.sentence).toMatch(/stuck or held down\. Let go of it/);
    await clock.advance_s(5);
    expect(told.stuck).toHaveLength(2);
    stick(false);
    await clock.advance_s(20);
    expect(told.stuck).toHaveLength(2);
  });

  it("is called stuck when it is down from the moment the station connects, and starts nothing", async () => {
    const { clock, fixture, told } = await connected((plant) =>
      plant.instruments.get("io_block")?.misbehave("start_stuck"),
    );
    fixture.expectStart();
    expect(fixture.startRefusal()?.code).toBe("START_BUTTON_STUCK");
    await clock.advance_s(6);
    expect(told).toMatchObject({ presses: 0, stuck: [{ code: "START_BUTTON_STUCK" }] });
  });

  it("held long by the press that started is no reason to refuse that start", async () => {
    const { clock, fixture, told, stick } = await connected();
    fixture.expectStart();
    await clock.advance_s(1);
    stick(true);
    await clock.advance_s(2);
    expect(told.presses).toBe(1);
    expect(fixture.startRefusal()).toBeNull();
  });

  it("tells nothing once the station no longer listens", async () => {
    const { clock, fixture, told, stick } = await connected();
    stick(true);
    await clock.advance_s(1);
    fixture.stopListening();
    await clock.advance_s(20);
    expect(told).toMatchObject({ presses: 0, stuck: [] });
  });
});
