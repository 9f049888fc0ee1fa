using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.TextLogs;

/// <summary>
/// Takes the lines of text logs: what they carry goes the way of everything heard. The Proxy PDUs of one log are taken for one connection, of which nothing
/// else is known; what its writer sent is taken for the client's, unless a line says that it was notified.
/// </summary>
internal sealed class TextLogIntake(CaptureHistory history, KeyRing keys)
{
    private readonly TextLineJudge _judge = new(keys);
    private readonly MeshMessageSink _sink = new(history);
    private readonly Dictionary<int, Session> _sessions = [];

    public void Take(in CapturedFrame frame, ref FrameRow row)
    {
        if (!LogLine.TryRead(frame.Octets, out LogLine line, out _))
        {
            row.ProblemField = FrameProblem.Malformed;
            return;
        }
        if (!_sessions.TryGetValue(frame.Receiver, out Session? session))
            _sessions.Add(frame.Receiver, session = new Session());
        bool fromClient = line.Direction is not (LineDirection.Received or LineDirection.Notified);
        (TextLineKind kind, TextLineReason reason) = _judge.Judge(in line, session.IsOpen(fromClient));
        int frameRow = history.Frames.Count;
        _sink.Begin(in row);
        (_sink.Record, _sink.Connection) = (null, -1);
        bool used = kind switch
        {
            TextLineKind.ProxyPdu => TakeProxy(session, in line, in frame, fromClient, frameRow),
            TextLineKind.NetworkPdu => _sink.TakeContent(ContentKind.TextNetworkPdu, Carries.MeshMessage, line.Octets),
            TextLineKind.Beacon => _sink.Take(ProxyMessageType.MeshBeacon, fromClient, line.Octets, frameRow, frame.TimeNs),
            TextLineKind.ProvisioningPdu => _sink.Take(ProxyMessageType.ProvisioningPdu, fromClient, line.Octets, frameRow, frame.TimeNs),
            _ => true,
        };
        row = _sink.End();
        row.CarriesField &= kind == TextLineKind.ProxyPdu ? (Carries)ushort.MaxValue : ~(Carries.GattProxy | Carries.GattProvisioning);
        if (row.CarriesField == Carries.None)
            row.CarriesField = Carries.Other;
        if (session.Row >= 0 && kind == TextLineKind.ProxyPdu)
            row.SetConnection(session.Row);
        if (!used)
            row.ProblemField = FrameProblem.Malformed;
        bool keeps = kind == TextLineKind.AccessPayload;
        history.TextLineList.Add(new TextLineRecord(frameRow, line.Line, kind, reason, keeps ? history.TextPayloads.Add(line.Octets) : 0, keeps ? line.Octets.Length : 0));
    }

    /// <summary>Once the keys have been tried: lines that one of them opened are certain.</summary>
    public void Conclude()
    {
        for (int i = 0; i < history.TextLineList.Count; i++)
            if (history.TextLineList[i] is { Kind: TextLineKind.NetworkPdu or TextLineKind.ProxyPdu } line && history.FloodOf(line.Frame) is not null)
                history.TextLineList[i] = line with { Reason = TextLineReason.NetMic };
    }

    private bool TakeProxy(Session session, in LogLine line, in CapturedFrame frame, bool fromClient, int frameRow)
    {
        if (!ProxyPdu.TryRead(line.Octets, out ProxyPdu pdu, out _))
            return false;
        if (session.Row < 0 && history.ConnectionList.Count < ConnectionIntake.MostConnections)
        {
            session.Row = history.ConnectionList.Count;
            history.ConnectionList.Add(new ConnectionRecord { Receiver = frame.Receiver, FirstTimeNs = frame.TimeNs, LastTimeNs = frame.TimeNs });
        }
        if (session.Row < 0)
            return false;
        ConnectionRecord record = history.ConnectionList[session.Row];
        record.Counts.Packets++;
        record.LastTimeNs = Math.Max(record.LastTimeNs, frame.TimeNs);
        if (pdu.MessageType == ProxyMessageType.ProvisioningPdu)
            record.Provisioning = MeshRecognition.ByContent;
        else
            record.Proxy = MeshRecognition.ByContent;
        (_sink.Record, _sink.Connection) = (record, session.Row);
        ProxyAssembly assembly = session.Of(fromClient);
        bool whole = assembly.Take(in pdu, frame.TimeNs, out int lost);
        record.Counts.ProxyPdusLost += lost;
        session.SetOpen(fromClient, !whole && lost == 0);
        if (!whole)
            return true;
        bool used = _sink.Take(pdu.MessageType, fromClient, assembly.Whole, frameRow, frame.TimeNs);
        record.Counts.ProxyPdusLost += used ? 0 : 1;
        return used;
    }

    /// <summary>The Proxy PDUs of one log.</summary>
    private sealed class Session
    {
        private readonly ProxyAssembly _client = new(), _server = new();
        private bool _clientOpen, _serverOpen;

        public int Row { get; set; } = -1;

        public ProxyAssembly Of(bool fromClient) => fromClient ? _client : _server;
        public bool IsOpen(bool fromClient) => fromClient ? _clientOpen : _serverOpen;

        public void SetOpen(bool fromClient, bool open) => _ = fromClient ? _clientOpen = open : _serverOpen = open;
    }
}
