/*
 * idle.h - sleep, unless something has happened since the main program began to look.
 *
 * The check and the falling asleep must be one step with interrupts off, and a short one: an edge waits while it
 * lasts. So the interrupts leave a note in one bit, and only that bit is looked at.
 */
#ifndef IDLE_H
#define IDLE_H

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#define IDLE_NOTE GPIOR0
#define IDLE_NOTE_BIT _BV(1)

/* For interrupts: there is something for the main program to do. One instruction. */
static inline void idle_not_yet(void) {
    IDLE_NOTE |= IDLE_NOTE_BIT;
}

/* For the main program, before it looks for work. */
static inline void idle_begin_look(void) {
    IDLE_NOTE &= (uint8_t)~IDLE_NOTE_BIT;
}

/* Sleep until the next interrupt, unless `condition`, which interrupts may change, holds already. */
#define idle_sleep_unless(condition)                                                       \
    do {                                                                                   \
        cli();                                                                             \
        if (!(condition)) {                                                                \
            sei(); /* takes effect after the next instruction: no wake-up slips between */ \
            sleep_cpu();                                                                   \
        }                                                                                  \
        sei();                                                                             \
    } while (0)

/* For the main program, when it found no work. */
static inline void idle_sleep(void) {
    idle_sleep_unless(IDLE_NOTE & IDLE_NOTE_BIT);
}

static inline void idle_start(void) {
    set_sleep_mode(SLEEP_MODE_IDLE);
    sleep_enable();
}

#endif
