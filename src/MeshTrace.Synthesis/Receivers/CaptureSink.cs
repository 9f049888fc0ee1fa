using MeshTrace.Captures.Files;
using MeshTrace.Synthesis.Nodes.Proxy;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Receivers;

/// <summary>Writes the frames of all receivers into one pcapng file, an interface each, and the logs of all phones, as they come.</summary>
internal sealed class CaptureSink : IFrameSink, IDisposable
{
    private readonly PcapNgWriter _writer;
    private readonly int[] _interfaces;

    internal CaptureSink(Stream stream, Scenario scenario)
    {
        _writer = new PcapNgWriter(stream, leaveOpen: true);
        _interfaces =
        [
            .. scenario.Receivers.Select(receiver => _writer.AddInterface(receiver.LinkType, receiver.Name)),
            .. scenario.Nodes.Where(node => node.Phone is not null).Select(node => _writer.AddInterface(HostLog.Type, node.Name)),
        ];
    }

    internal long Frames { get; private set; }

    public void Write(int receiver, long timeNs, ReadOnlySpan<byte> octets, bool crcError)
    {
        _writer.Write(_interfaces[receiver], timeNs, octets, crcError: crcError);
        Frames++;
    }

    public void Dispose() => _writer.Dispose();
}
