// How the commands of a rig end.

/** Exit statuses of the commands; errors that are thrown end with 1. */
export const EXIT = { well: 0, failed: 1, notApproved: 3, personNeeded: 4, stopped: 130 } as const
