#!/bin/sh
# Healthy is a broker that answers a client, not one that printed a line.
PATH="$PATH:/opt/java/openjdk/bin"
exec java -XX:TieredStopAtLevel=1 -cp '/opt/kafka/libs/*' kafka.admin.ConfigCommand \
  --bootstrap-server kafka:9092 --describe --entity-type brokers --entity-default >/dev/null 2>&1
