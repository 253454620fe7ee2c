/** Raise it with every change to what a Gain answer says or computes: answers kept by an earlier revision are then worked out anew. */
export const GAIN_REVISION = 9
