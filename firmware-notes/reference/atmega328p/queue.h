/*
 * queue.h - what was sensed and is not yet sent, in order.
 *
 * A sequence number is taken when the edge comes, not when its line is sent. A pulse that finds the queue full
 * uses up its number and is counted; so the host sees the gap, and an `x` line with the count follows. Both
 * accounts must agree.
 */
#ifndef QUEUE_H
#define QUEUE_H

#include <stdbool.h>
#include <stdint.h>

struct line {
    uint32_t tick;
    uint16_t seq;
    uint16_t count; /* of an overrun: pulses lost before this tick; else 1 */
    char channel;
};

extern volatile uint32_t queue_lost_total;

/* A pulse. Call with interrupts off. */
void queue_pulse(char channel, uint32_t tick);

/* A keep-alive; false when there is no room yet: ask again. Call with interrupts off. */
bool queue_keep_alive(uint32_t tick);

/* The oldest line, if there is one. Call from the main program. */
bool queue_take(struct line *taken);
bool queue_is_empty(void);

/* The number that the next line will get. Call with interrupts off. */
uint16_t queue_next_seq(void);

#endif
