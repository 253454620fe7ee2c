// What a person can tell a rig, a file a verb.
export * from './commands/approve.ts'
export * from './commands/exit.ts'
export { machineSources } from './commands/plan-file.ts'
export * from './commands/run.ts'
export * from './commands/status.ts'
export * from './commands/stop.ts'
