import { z } from "zod";
import { CHECKSUM_KINDS, type LineChecksum } from "./checksum.ts";
import { mark } from "./profile-words.ts";

/** A profile's `checksum`: what every line carries at its end. */
export const checksumSchema = z
  .strictObject({
    kind: z.enum(CHECKSUM_KINDS),
    begins_after: mark.optional().meta({
      description: "Every line begins with this, which the checksum leaves out, such as $.",
    }),
    separator: mark.optional().meta({
      description: "Stands before the checksum, which leaves it out, such as *.",
    }),
    digits: z
      .enum(["upper", "lower", "either"])
      .meta({ description: "The checksum is written in hexadecimal digits: 5C, 5c, or now so, now so." }),
    low_byte_first: z.boolean().optional().meta({ description: "Of a CRC-16: 4B37 is written 374B." }),
    sent: z.boolean().optional().meta({ description: "What is sent carries it too." }),
  })
  .transform(
    (given): LineChecksum => ({
      kind: given.kind,
      beginsAfter: given.begins_after ?? "",
      separator: given.separator ?? "",
      digits: given.digits,
      lowByteFirst: given.low_byte_first ?? false,
      sent: given.sent ?? false,
    }),
  );
