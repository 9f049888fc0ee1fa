using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Synthesis.Connections;

/// <summary>
/// Records the connections of a phone from the air: its CONNECT_IND, then connection event after connection event on the data channels, with the
/// retransmissions of the link layer.
/// </summary>
public sealed class AirCaptureWriter
{
    private const long EpochNs = 1_772_449_200_000_000_000;     // 2026-03-02T11:00:00Z
    private const ushort IntervalUnits = 24;                    // 30 ms
    private const int InterFrameUs = 150, HeaderAndCrcOctets = 1 + 4 + 2 + 3, UsPerOctet = 8, MostPairs = 6, Hop = 7, DataChannels = 37;

    private readonly AirRecording _recording;
    private readonly Random _random;
    private readonly byte[] _frame = new byte[LeLinkLayerWriter.LongestFrame];
    private uint _crcInit, _accessAddress;
    private int _channel;
    private ushort _packets;

    private AirCaptureWriter(AirRecording recording)
    {
        _recording = recording;
        _random = new Random(recording.Seed);
    }

    /// <summary>Packets of connections that were sent, recorded or not.</summary>
    public int PacketsSent { get; private set; }

    /// <summary>Packets of connections that were recorded with a wrong CRC.</summary>
    public int BadCrcRecorded { get; private set; }

    /// <summary>Writes a pcap file; the stream stays open.</summary>
    public static AirCaptureWriter Write(Stream stream, IReadOnlyList<ConnectionScript> connections, AirRecording recording)
    {
        var writer = new AirCaptureWriter(recording);
        using var file = new PcapWriter(stream, recording.LinkType, nanoseconds: true, leaveOpen: true);
        for (int i = 0; i < connections.Count; i++)
            writer.WriteOne(file, connections[i], 0x50A3_17C9u + (uint)(i * 0x0101_0200), 0x2B_51A7u + (uint)(i * 0x1111));
        return writer;
    }

    private void WriteOne(PcapWriter file, ConnectionScript script, uint accessAddress, uint crcInit)
    {
        (_accessAddress, _crcInit, _channel) = (accessAddress, crcInit, 0);
        Span<byte> payload = stackalloc byte[34], advData = stackalloc byte[31], pdu = stackalloc byte[AdvertisingPdu.HeaderLength + 34];
        int length = AdStructureWriter.Write(advData, AdType.ServiceData16, script.ServiceData);
        length = LeLinkLayerWriter.Write(_frame, _recording.LinkType, AdvertisingPduType.AdvInd, script.Peripheral, true, advData[..length], 37, -55);
        file.Write(At(script.BeginUs - 2_000), _frame.AsSpan(0, length));
        AdvertisingPdu.WriteAddress(payload, script.Central);
        AdvertisingPdu.WriteAddress(payload[6..], script.Peripheral);
        ConnectIndData.Write(payload[12..], accessAddress, crcInit, IntervalUnits, 0, 500, Hop);
        length = AdvertisingPdu.Write(pdu, AdvertisingPduType.ConnectInd, chSel: false, txAdd: false, rxAdd: true, payload);
        length = LeLinkLayerWriter.WritePacket(_frame, _recording.LinkType, 0x8E89BED6, pdu[..length], 37, -50);
        if (!_recording.MissesBegin)
            file.Write(At(script.BeginUs), _frame.AsSpan(0, length));
        RunEvents(file, script);
    }

    private void RunEvents(PcapWriter file, ConnectionScript script)
    {
        LinkSide central = new(), peripheral = new();
        bool encrypted = false;
        int next = 0;
        if (_recording.Encrypts)
        {
            // LL_ENC_REQ with Rand, EDIV, SKD and IV; LL_ENC_RSP; LL_START_ENC_REQ. What they hold does not matter here.
            central.SendControl([(byte)LinkControlOpcode.EncReq, .. new byte[22]]);
            peripheral.SendControl([(byte)LinkControlOpcode.EncRsp, .. new byte[12]]);
            peripheral.SendControl((byte)LinkControlOpcode.StartEncReq);
        }
        for (long us = script.BeginUs + 10_000; us < script.EndUs || central.HasMore || peripheral.HasMore; us += IntervalUnits * 1250)
        {
            encrypted |= _recording.Encrypts && us > script.BeginUs + 55_000;
            for (; next < script.Pdus.Count && script.Pdus[next].TimeUs <= us; next++)
                (script.Pdus[next].FromClient ? central : peripheral).Send(script.Pdus[next].AttPdu);
            bool last = us + (IntervalUnits * 1250) >= script.EndUs && !central.HasMore && !peripheral.HasMore;
            if (last && !encrypted)
                central.SendControl((byte)LinkControlOpcode.TerminateInd, 0x16);
            _channel = (_channel + Hop) % DataChannels;
            long at = us;
            for (int pair = 0; pair < MostPairs; pair++)
            {
                at = Transmit(file, central, peripheral, PacketSide.First, at, encrypted);
                at = Transmit(file, peripheral, central, PacketSide.Second, at, encrypted);
                if (!central.HasMore && !peripheral.HasMore)
                    break;
            }
            if (last)
                return;
        }
    }

    /// <summary>One packet from one side to the other; returns when the next one begins.</summary>
    private long Transmit(PcapWriter file, LinkSide from, LinkSide to, PacketSide side, long us, bool encrypted)
    {
        byte[] pdu = new byte[DataChannelPdu.HeaderLength + 255];
        int length = from.Write(pdu, encrypted ? Scramble : null);
        PacketsSent++;
        bool received = _random.NextDouble() >= _recording.Retransmitted, missed = _random.NextDouble() < _recording.Missed, bad = _random.NextDouble() < _recording.BadCrc;
        if (received && DataChannelPdu.TryRead(pdu.AsSpan(0, length), out DataChannelPdu read, out _))
            to.Receive(in read);
        if (!missed)
        {
            if (bad)
            {
                pdu[_random.Next(length)] ^= 0x10;      // as disturbance does; the writer makes the CRC wrong for whatever stands there now
                pdu[1] = (byte)(length - DataChannelPdu.HeaderLength);
                BadCrcRecorded++;
            }
            int written = LeLinkLayerWriter.WritePacket(_frame, _recording.LinkType, _accessAddress, pdu.AsSpan(0, length), _channel, -62, corruptCrc: bad,
                packetCounter: _packets++, crcInitial: _crcInit, side: side);
            file.Write(At(us), _frame.AsSpan(0, written));
        }
        return us + ((HeaderAndCrcOctets + length - DataChannelPdu.HeaderLength) * UsPerOctet) + InterFrameUs;
    }

    /// <summary>Ciphertext looks like this: nothing of the payload, and a MIC of four octets.</summary>
    private byte[] Scramble(byte[] payload)
    {
        byte[] octets = new byte[payload.Length + 4];
        _random.NextBytes(octets);
        return octets;
    }

    private static long At(long us) => EpochNs + (us * 1000);
}
