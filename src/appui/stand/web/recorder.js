// Hands on what the microphone brings, block by block; runs beside the page, in the browser's audio thread.
class Recorder extends AudioWorkletProcessor {
  process(inputs) {
    const [channel] = inputs[0] || [];
    if (channel) this.port.postMessage(channel.slice());
    return true;
  }
}
registerProcessor("recorder", Recorder);
