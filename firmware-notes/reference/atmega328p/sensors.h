/*
 * sensors.h - edges on the sensor pins to pulses in the queue.
 */
#ifndef SENSORS_H
#define SENSORS_H

#include <stdint.h>

#include "board.h"

#define LONGEST_SETTLE_US 100000UL

void sensors_start(void);

/*
 * A pulse counts only after its pin has rested for `micros` (0: every edge counts). For contacts that bounce;
 * the host has a better filter, which sees the whole record.
 */
void sensors_set_settle(uint8_t channel, uint32_t micros);
uint32_t sensors_settle(uint8_t channel);

/* Edges that did not count for that reason, so that even these are not silently gone. */
uint32_t sensors_ignored(uint8_t channel);

/* Forget edges that are long past, before the clock's wrap makes them look recent; at least once an hour. */
void sensors_forget_old(uint32_t tick);

#endif
