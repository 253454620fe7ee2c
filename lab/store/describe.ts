// How a record is called in a sentence.
import type { LabRecord } from '@guardband/model'

export function describeRecord(record: LabRecord): string {
  switch (record.kind) {
    case 'lab':
    case 'part':
    case 'rig':
    case 'tune':
    case 'workload':
    case 'suite':
    case 'grade':
    case 'campaign':
      return `${record.kind} "${record.name}"`
    case 'sample':
      return `sample "${record.label}"`
    case 'report':
      return `report ${record.number}`
    case 'question':
      return record.title === undefined ? `question ${record.id}` : `question "${record.title}"`
    case 'cost':
      return `cost of a ${record.of}`
    default:
      return `${record.kind} ${record.id}`
  }
}
