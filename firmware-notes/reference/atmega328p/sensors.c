#include "sensors.h"

#include <stdbool.h>

#include <avr/interrupt.h>
#include <util/atomic.h>

#include "clock.h"
#include "idle.h"
#include "queue.h"

static uint8_t was_there;

/* Settling; all of it touched with interrupts off. A bit of the masks stands for the pin of that number. */
static volatile uint8_t settling;       /* pins that must rest before a pulse counts */
static volatile uint8_t changed_lately; /* pins whose changed_at still means something */
static volatile uint32_t changed_at[CHANNELS];
static volatile uint32_t settle_us[CHANNELS];
static volatile uint32_t ignored[CHANNELS];

static inline uint8_t pin_of(uint8_t channel) {
    return (uint8_t)_BV(FIRST_PIN + channel);
}

/* Which sensors see a target now, as pin bits. */
static inline uint8_t targets_there(void) {
    return (PIND ^ REST_HIGH_PINS) & SENSOR_PINS;
}

/* Whether an edge comes too soon after the one before; notes this one. Seldom used, so kept out of the way. */
static bool __attribute__((noinline)) too_soon(uint8_t channel, uint8_t pin, uint32_t tick) {
    bool soon = (changed_lately & pin) && tick - changed_at[channel] < settle_us[channel];

    changed_at[channel] = tick;
    changed_lately |= pin;
    return soon;
}

static inline void edge(uint8_t channel, char letter, uint8_t differs, uint8_t there, uint32_t tick) {
    uint8_t pin = pin_of(channel);

    if (!(differs & pin)) {
        return;
    }
    if ((settling & pin) && too_soon(channel, pin, tick)) {
        if (there & pin) {
            ignored[channel]++;
        }
        return;
    }
    if (there & pin) {
        queue_pulse(letter, tick);
    }
}

/* One interrupt for all sensors: edges that come together get the same tick. */
ISR(PCINT2_vect) {
    uint16_t counter = TCNT1; /* before anything else: this is the moment of the pulse */
    uint8_t there = targets_there();
    uint8_t differs = there ^ was_there;
    uint32_t tick = clock_tick_at(counter);

    idle_not_yet();
    was_there = there;
    if (there) {
        PORTB |= LAMP_PIN;
    } else {
        PORTB &= (uint8_t)~LAMP_PIN;
    }
    /* written out: with constants in the place of a loop's variables this takes half the time */
    edge(0, CHANNEL_LETTERS[0], differs, there, tick);
    edge(1, CHANNEL_LETTERS[1], differs, there, tick);
    edge(2, CHANNEL_LETTERS[2], differs, there, tick);
    edge(3, CHANNEL_LETTERS[3], differs, there, tick);
}

void sensors_start(void) {
    DDRB |= LAMP_PIN;
    DDRD &= (uint8_t)~SENSOR_PINS;
    PORTD |= SENSOR_PINS; /* pull-ups */
    was_there = targets_there();
    PCMSK2 = SENSOR_PINS;
    PCIFR = _BV(PCIF2);
    PCICR = _BV(PCIE2);
}

void sensors_set_settle(uint8_t channel, uint32_t micros) {
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        settle_us[channel] = micros;
        changed_lately &= (uint8_t)~pin_of(channel);
        if (micros) {
            settling |= pin_of(channel);
        } else {
            settling &= (uint8_t)~pin_of(channel);
        }
    }
}

uint32_t sensors_settle(uint8_t channel) {
    return settle_us[channel]; /* only the main program writes it */
}

uint32_t sensors_ignored(uint8_t channel) {
    uint32_t count;

    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        count = ignored[channel];
    }
    return count;
}

void sensors_forget_old(uint32_t tick) {
    if (!settling) {
        return;
    }
    for (uint8_t channel = 0; channel < CHANNELS; channel++) {
        ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
            /* an edge may have come after `tick`: seen from it, that one is not old but ahead */
            if ((int32_t)(tick - changed_at[channel]) > (int32_t)LONGEST_SETTLE_US ||
                (int32_t)(tick - changed_at[channel]) < -(int32_t)LONGEST_SETTLE_US) {
                changed_lately &= (uint8_t)~pin_of(channel);
            }
        }
    }
}
