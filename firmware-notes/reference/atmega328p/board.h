/*
 * board.h - what differs from one build to the next: clock, line rate, pins, targets.
 *
 * Sensors sit on port D so that one pin-change interrupt sees all of them at once:
 *
 *   PD2 drive wheel (w)   PD3 flyer (f)   PD4 bobbin (b)   PD5 yarn take-up roller (y)
 *
 * PD0 and PD1 are the serial line. PB5, the lamp on most boards, is lit while any sensor sees a target.
 */
#ifndef BOARD_H
#define BOARD_H

#include <avr/io.h>

#ifndef F_CPU
#define F_CPU 16000000UL
#endif

#ifndef BAUD
#define BAUD 115200UL
#endif

/* Targets per turn on each shaft, as the greeting reports them. */
#ifndef TARGETS
#define TARGETS "w=4 f=2 b=2 y=1"
#endif

#define CHANNELS 4
#define FIRST_PIN 2
#define SENSOR_PINS 0x3C
#define CHANNEL_LETTERS "wfby"

/*
 * Pins that are high while no target is there. Open-collector Hall sensors and phototransistors against a
 * pull-up rest high, so this is all of them; clear the bit of a sensor that rests low.
 */
#ifndef REST_HIGH_PINS
#define REST_HIGH_PINS SENSOR_PINS
#endif

#define LAMP_PIN _BV(5)

#define BOARD_NAME "whorlpulse reference for ATmega328P, version 1"

#endif
