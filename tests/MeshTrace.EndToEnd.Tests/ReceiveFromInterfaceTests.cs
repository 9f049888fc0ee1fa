using System.Net;
using System.Net.Sockets;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Udp;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Protocol.Link;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>Interfaces of this machine, through libpcap; skipped where it is missing or this user may not receive from them.</summary>
public sealed class ReceiveFromInterfaceTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [SkippableFact]
    public void FramesInUdpOnAnInterface_AreReceivedAndSaved()
    {
        string loopback = Loopback();
        int port = FreePort();
        string kept = _folder.File("kept.pcapng"), port16 = port.ToString(System.Globalization.CultureInfo.InvariantCulture);
        using var live = new Receiving(["--interface", loopback, "--udp-port", port16, "--udp-link-type", "251", "--keep", kept, .. Boathouse.Keys]);
        live.WaitFor("receiving from");
        using (var socket = new UdpClient())
        using (IFrameSource frames = CaptureFile.Open(new MemoryStream(Boathouse.Capture()), "boathouse"))
        {
            var to = new IPEndPoint(IPAddress.Loopback, port);
            while (frames.TryReadNext(out CapturedFrame frame))
            {
                socket.Send(frame.Octets, to);
                socket.Send([1, 2, 3], new IPEndPoint(IPAddress.Loopback, port == 65_535 ? port - 1 : port + 1));     // somebody else's
                Thread.Sleep(20);
            }
        }
        live.WaitFor("press 2: ");
        Outcome outcome = live.Interrupt().Ended(ExitCode.Fine);
        Assert.Contains("5 frames, 2 presses", outcome.Output, StringComparison.Ordinal);
        Assert.Contains($"5 datagrams to UDP port {port16}, link type 251, from 1 sender (127.0.0.1)", outcome.Error, StringComparison.Ordinal);
        Outcome records = Program.RunHere(["records", kept, .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Equal((5, 2), (records.Records("frame").Count, records.Records("press").Count));
        Assert.Equal(251, records.Records("contract").Single().GetProperty("receivers")[0].GetProperty("linkType").GetInt32());
    }

    [SkippableFact]
    public void AnInterfaceOfAnotherLinkType_IsRefused_AndSoIsOneThatIsNotThere()
    {
        string loopback = Loopback();
        Outcome outcome = Program.Run("receive", "--interface", loopback).Ended(ExitCode.Unreadable);
        Assert.Contains("which are no Bluetooth frames", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("--udp-port", outcome.Error, StringComparison.Ordinal);
        Assert.DoesNotContain("receiving from", outcome.Error, StringComparison.Ordinal);
        Outcome missing = Program.Run("receive", "--interface", "not-there").Ended(ExitCode.Unreadable);
        Assert.Contains("there is no interface 'not-there'", missing.Error, StringComparison.Ordinal);
        Assert.Contains(loopback, missing.Error, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void TheList_NamesThemWithWhatTheyAreGoodFor()
    {
        string loopback = Loopback();
        Outcome outcome = Program.Run("receive", "--list-interfaces").Ended(ExitCode.Fine);
        Assert.Contains(outcome.Output.Split('\n'), line => line.StartsWith(loopback + ": link type ", StringComparison.Ordinal) && line.Contains("--udp-port", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(256, false, true), InlineData(254, false, true), InlineData(1, false, false), InlineData(1, true, true), InlineData(113, true, true), InlineData(239, true, false)]
    public void SuitableAre_BluetoothFrames_AndIpNetworksWhereFramesAreInUdp(int linkType, bool inUdp, bool suitable) =>
        Assert.Equal(suitable, LiveInterface.IsSuitable(new LinkType(linkType), inUdp ? new UdpEncapsulation(1, LinkType.LeLinkLayer) : null));

    /// <summary>The loopback interface, if this user may receive from it.</summary>
    private static string Loopback()
    {
        try
        {
            InterfaceDescription? loopback = LiveInterface.List().FirstOrDefault(one => one is { Name: "lo" or "lo0", LinkType.Number: 1 });
            Skip.If(loopback is null, "no loopback interface of link type 1 that this user may receive from");
            return loopback!.Name;
        }
        catch (CaptureLiveException problem)
        {
            Skip.If(true, problem.Message);
            throw;
        }
    }

    private static int FreePort()
    {
        using var socket = new UdpClient(0, AddressFamily.InterNetwork);
        return ((IPEndPoint)socket.Client.LocalEndPoint!).Port;
    }
}
