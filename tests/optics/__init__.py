"""Tests of what light does in films of paint."""
