// What sits where, by small benches worked by hand.
import { describe, expect, test } from 'vitest'
import type { Assembly, Mount } from '../records/parts.ts'
import { assemblyNow, changeSlot, mountNow, seatChanges, seatNow } from '../seating.ts'

const id = (number: number): string => `0190a000-0000-7000-8000-${String(number).padStart(12, '0')}`
const at = (day: number): string => `2026-11-0${day}T09:00:00Z`
const [NORTH, SOUTH, CHIP_1, CHIP_2, MEMORY] = [id(1), id(2), id(11), id(12), id(13)]

function assembly(number: number, rigId: string, day: number, slots: Assembly['slots']): Assembly {
  return { kind: 'assembly', id: id(number), rigId, since: at(day), slots }
}
const mount = (number: number, assemblyId: string, day: number): Mount => ({ kind: 'mount', id: id(number), assemblyId, at: at(day) })
const chip = (sampleId: string): Assembly['slots'][number] => ({ slot: 'processor', sampleId })
const memory = (sampleId: string, position: string): Assembly['slots'][number] => ({ slot: 'memory', position, sampleId })
const newIds = () => {
  let next = 900
  return () => id(next++)
}

const bench = [assembly(21, NORTH, 2, [chip(CHIP_1)]), assembly(22, SOUTH, 3, [chip(CHIP_2), memory(MEMORY, 'A1')])]

describe('an assembly', () => {
  test('that holds now is the one since last, whatever the order in which they were entered', () => {
    expect(assemblyNow([...bench, assembly(23, NORTH, 1, [])], NORTH)?.id).toBe(id(21))
    expect(assemblyNow(bench, id(3))).toBeUndefined()
    expect(seatNow(bench, CHIP_2)?.rigId).toBe(SOUTH)
    expect(seatNow([...bench, assembly(24, SOUTH, 4, [])], CHIP_2)).toBeUndefined()
  })

  test('from a moment on keeps the other slots and the place of the one changed', () => {
    const items = changeSlot({ rigId: SOUTH, seat: { slot: 'processor' }, sampleId: id(14), since: at(5), assemblies: bench, newId: newIds() })
    expect(items).toEqual([{ before: null, after: assembly(900, SOUTH, 5, [chip(id(14)), memory(MEMORY, 'A1')]) }])
  })

  test('with a sample that sits in another rig takes it out there at the same moment', () => {
    const items = changeSlot({ rigId: NORTH, seat: { slot: 'processor' }, sampleId: CHIP_2, since: at(5), assemblies: bench, newId: newIds() })
    expect(items.map((item) => item.after)).toEqual([assembly(900, NORTH, 5, [chip(CHIP_2)]), assembly(901, SOUTH, 5, [memory(MEMORY, 'A1')])])
  })

  test('with a sample moved within one rig holds it once', () => {
    const [item, ...more] = changeSlot({ rigId: SOUTH, seat: { slot: 'memory', position: 'B1' }, sampleId: MEMORY, since: at(5), assemblies: bench, newId: newIds() })
    expect(item?.after).toEqual(assembly(900, SOUTH, 5, [chip(CHIP_2), memory(MEMORY, 'B1')]))
    expect(more).toEqual([])
  })

  test('of a rig that had none, and a slot left empty', () => {
    expect(changeSlot({ rigId: id(3), seat: { slot: 'memory', position: 'A2' }, sampleId: id(15), since: at(5), assemblies: bench, newId: newIds() })[0]?.after).toEqual(assembly(900, id(3), 5, [memory(id(15), 'A2')]))
    expect(changeSlot({ rigId: NORTH, seat: { slot: 'processor' }, sampleId: null, since: at(5), assemblies: bench, newId: newIds() })[0]?.after).toEqual(assembly(900, NORTH, 5, []))
  })

  test('differs from the one before by what went and what came', () => {
    expect(seatChanges(assembly(1, NORTH, 1, [chip(CHIP_1), memory(MEMORY, 'A1')]), assembly(2, NORTH, 2, [chip(CHIP_2), memory(MEMORY, 'A1')]))).toEqual({ out: [chip(CHIP_1)], in: [chip(CHIP_2)] })
    expect(seatChanges(undefined, assembly(2, NORTH, 2, [chip(CHIP_2)]))).toEqual({ out: [], in: [chip(CHIP_2)] })
  })
})

describe('a mount', () => {
  const changedMemory = [assembly(31, NORTH, 1, [chip(CHIP_1)]), assembly(32, NORTH, 3, [chip(CHIP_1), memory(MEMORY, 'A1')])]

  test('outlasts a change of memory', () => {
    expect(mountNow(changedMemory, [mount(41, id(31), 1)], NORTH)?.id).toBe(id(41))
    expect(mountNow(changedMemory, [mount(41, id(31), 1), mount(42, id(32), 4)], NORTH)?.id).toBe(id(42))
  })

  test('ends when another processor came under the cooler', () => {
    const changedChip = [...changedMemory, assembly(33, NORTH, 5, [chip(CHIP_2), memory(MEMORY, 'A1')])]
    expect(mountNow(changedChip, [mount(41, id(31), 1), mount(42, id(32), 4)], NORTH)).toBeUndefined()
    expect(mountNow(changedChip, [mount(43, id(33), 6)], NORTH)?.id).toBe(id(43))
  })
})
