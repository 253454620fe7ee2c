// How large evidence may be.

/** Bytes that one file may have: a minute of film from a phone. */
export const EVIDENCE_LIMIT = 50 * 1024 * 1024
/** Longer side of a thumbnail in pixels, as the sender makes it. */
export const THUMBNAIL_SIDE = 320
/** Bytes that a thumbnail may have: several times what 320 x 320 pixels need as JPEG. */
export const THUMBNAIL_LIMIT = 256 * 1024
