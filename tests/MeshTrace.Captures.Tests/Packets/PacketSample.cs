using MeshTrace.Captures.Files;
using MeshTrace.Captures.Packets;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Captures.Tests.Packets;

/// <summary>The sample of docs/packets.md, word for word: a test compares the two.</summary>
internal static class PacketSample
{
    // sample begins
    public static void Print(string captureFile, byte[] netKey, uint ivIndex, TextWriter output)
    {
        var keys = new PacketKeys();
        keys.Add(NetworkCredentials.Flooding(netKey), ivIndex);
        using IFrameSource capture = CaptureFile.Open(captureFile);
        while (capture.TryReadNext(out CapturedFrame frame))
        {
            foreach (AdvertisingPacket packet in MeshPacket.ReadAll(in frame, keys))
            {
                if (packet.Extract<ClearNetworkPacket>() is { } network)
                    output.WriteLine($"{network.Src} to {network.Dst}, SEQ {network.Seq}: {packet.Extract<LowerTransportPacket>()?.Kind}");
            }
        }
    }

    // sample ends
}
