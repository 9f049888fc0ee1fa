using MeshTrace.Captures.Files;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Receivers;

/// <summary>Writes the frames of all receivers into one pcapng file, an interface each, as they come.</summary>
internal sealed class CaptureSink : IFrameSink, IDisposable
{
    private readonly PcapNgWriter _writer;
    private readonly int[] _interfaces;

    internal CaptureSink(Stream stream, IReadOnlyList<ReceiverPlan> receivers)
    {
        _writer = new PcapNgWriter(stream, leaveOpen: true);
        _interfaces = [.. receivers.Select(receiver => _writer.AddInterface(receiver.LinkType, receiver.Name))];
    }

    internal long Frames { get; private set; }

    public void Write(int receiver, long timeNs, ReadOnlySpan<byte> octets, bool crcError)
    {
        _writer.Write(_interfaces[receiver], timeNs, octets, crcError: crcError);
        Frames++;
    }

    public void Dispose() => _writer.Dispose();
}
