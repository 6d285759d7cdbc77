#!/bin/sh
# Formats the data folder at the first start, then runs the broker.
set -e
PATH="$PATH:/opt/java/openjdk/bin"
[ -f /var/lib/kafka/data/meta.properties ] ||
  java -cp '/opt/kafka/libs/*' kafka.tools.StorageTool format -t bearing-rise-compose00 -c /broker/server.properties
exec java -Xms256m -Xmx768m -XX:+UseG1GC -cp '/opt/kafka/libs/*' kafka.Kafka /broker/server.properties
