/*
 * serial.h - the serial line: bytes out by interrupt, one command line in by interrupt.
 */
#ifndef SERIAL_H
#define SERIAL_H

#include <stdbool.h>
#include <stdint.h>

void serial_start(void);

/* Send one byte; sleeps while the buffer is full. Call with interrupts on. */
void serial_put(char byte);

/* True when a whole command line has come. */
bool serial_has_command(void);

/* The command, ended by a zero byte, valid until serial_command_done(); null when it was too long. */
const char *serial_command(void);
void serial_command_done(void);

#endif
