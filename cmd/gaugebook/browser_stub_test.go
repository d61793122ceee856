package main

func stopBrowser() {}
