/** Settings of a serial line, as the instrument's manual states them. Other transports ignore them. */
export interface SerialSettings {
  readonly baud: number;
  readonly dataBits: 7 | 8;
  readonly parity: "none" | "even" | "odd";
  readonly stopBits: 1 | 2;
  readonly flowControl: "none" | "rts_cts" | "xon_xoff";
}
