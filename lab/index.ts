// A workspace on disk: change log, store, intake, snapshots, workers, publishing.
export { createLab, isLab, openLab, type NewLab } from './open-lab.ts'
export { takeHubLock, type HubLock } from './hub-lock.ts'
export { DAMAGE_MEND, spokenDatabaseError } from './store/speak-database-errors.ts'
export { decodeText } from './intake/csv/decode-text.ts'
export type { AnswerProgress, CheckFinding, JournalIntake, Lab, LabSources, NewChange } from './lab.ts'
export { describeRecord } from './store/describe.ts'
