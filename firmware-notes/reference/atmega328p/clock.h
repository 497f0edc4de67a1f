/*
 * clock.h - microseconds since start, 32 bits, from timer 1.
 *
 * Timer 1 runs at F_CPU / 8 (half microseconds at 16 MHz) and laps every 32.768 ms; the laps are counted.
 * One tick is one microsecond; the count wraps at 2^32, after 71.6 minutes.
 */
#ifndef CLOCK_H
#define CLOCK_H

#include <stdint.h>

#include <avr/io.h>

#include "board.h"

#if F_CPU != 16000000UL
#error "one tick is one microsecond only at 16 MHz: change the prescaler and the greeting together"
#endif

#define TICK_HZ 1000000UL

/*
 * The lap count stands in two places, of which `clock_place` names the valid one: the next count is written
 * with interrupts on and then made valid by one store, so that counting holds up no edge.
 */
extern volatile uint32_t clock_laps[2];
extern volatile uint8_t clock_place;

/* Bit 0: a lap has ended and is not yet counted. In reach of the one instruction that touches no register. */
#define CLOCK_OWED GPIOR0

void clock_start(void);

/* Tick at which timer 1 stood at `counter`. Call with interrupts off, soon after reading the counter. */
static inline uint32_t clock_tick_at(uint16_t counter) {
    uint32_t laps = clock_laps[clock_place];

    /*
     * A lap may have ended that is not counted yet. A small counter then belongs to the next lap; a large one
     * was read before the end and belongs to this one.
     */
    if (((TIFR1 & _BV(TOV1)) || (CLOCK_OWED & 1)) && counter < 0x8000) {
        laps++;
    }
    /* laps * 2^15 + counter / 2, by halves: the processor shifts one bit at a time, fifteen cost 7 us */
    return (uint32_t)(uint16_t)(laps >> 1) << 16 | (uint16_t)(laps & 1 ? 0x8000 : 0) | counter >> 1;
}

/* Tick now. Call with interrupts off. */
static inline uint32_t clock_now(void) {
    return clock_tick_at(TCNT1);
}

/* Low byte of the lap count, one read: cheap to look at often. */
static inline uint8_t clock_lap(void) {
    return (uint8_t)clock_laps[clock_place];
}

#endif
